// Where pinned pieces are to lie, as the job file says it, laid over a lay that was found before.

import { rowsOf } from "./keeper.js";
import { middleOf, turned } from "./lay_view.js";
import { unitOf } from "./words.js";

const MM = { mm: 1, cm: 10, m: 1000, in: 25.4, ft: 304.8, yd: 914.4 };

const LENGTH = /^\s*([+-]?)(?:(\d+(?:\.\d+)?)(?:\s+(\d+)\/(\d+))?|(\d+)\/(\d+))\s*([a-z]*)\s*$/;

// A number, or text such as "12.5", "6 1/2 in", "1/2 in"; what is written otherwise is none here: the piece then
// stays where the nest laid it.
function millimetres(value, unit) {
  if (typeof value === "number") return value * MM[unit];
  const found = LENGTH.exec(String(value));
  if (!found) return NaN;
  const [sign, whole, part, of, onlyPart, onlyOf, own] = found.slice(1);
  const number = Number(whole ?? 0) + Number(part ?? onlyPart ?? 0) / Number(of ?? onlyOf ?? 1);
  return (sign === "-" ? -number : number) * (MM[own || unit] ?? NaN);
}

export function pinsOf(job) {
  const unit = unitOf(job);
  const pins = new Map();
  for (const pin of rowsOf(job, "pinned")) {
    if (!Array.isArray(pin.at)) continue;
    const [x_mm, y_mm] = pin.at.map((value) => millimetres(value, unit));
    if (Number.isFinite(x_mm + y_mm)) pins.set(pin.piece, { x_mm, y_mm, turn_deg: pin.turn_deg ?? 0 });
  }
  return pins;
}

// A lay with its pinned pieces where the order wants them; `moved` counts those that lay elsewhere.
export function withPins(lay, pins) {
  let moved = 0;
  const pieces = lay.pieces.map((piece) => {
    const pin = pins.get(piece.id);
    if (!pin) return { ...piece, pinned: false };
    const turn = pin.turn_deg - piece.turn_deg;
    const outline = piece.outline.map((point) => {
      const [x, y] = turned(point, turn, [piece.x_mm, piece.y_mm]);
      return [x + pin.x_mm - piece.x_mm, y + pin.y_mm - piece.y_mm];
    });
    const [ax, ay] = middleOf(piece.outline);
    const [bx, by] = middleOf(outline);
    const elsewhere = Math.hypot(ax - bx, ay - by) > 0.05 || Math.abs(Math.sin((turn * Math.PI) / 360)) > 1e-6;
    moved += elsewhere ? 1 : 0;
    return { ...piece, ...pin, outline, pinned: true, elsewhere };
  });
  return { ...lay, pieces, moved };
}
