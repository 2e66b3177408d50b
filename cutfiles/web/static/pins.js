// Where pinned pieces are to lie, as the job file says it, laid over a lay that was found before.

import { middleOf } from "./lay_view.js";

const MM = { mm: 1, cm: 10, m: 1000, in: 25.4, ft: 304.8, yd: 914.4 };

function millimetres(value, unit) {
  if (typeof value === "number") return value * MM[unit];
  const found = /^\s*([+-]?\d+(?:\.\d+)?)\s*([a-z]*)\s*$/.exec(String(value));
  return found ? Number(found[1]) * (MM[found[2] || unit] ?? NaN) : NaN;
}

export function pinsOf(job) {
  const unit = job.tables?.length_unit ?? "mm";
  const pins = new Map();
  for (const pin of job.tables?.pinned ?? []) {
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
    const turn = ((pin.turn_deg - piece.turn_deg) * Math.PI) / 180;
    const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
    const outline = piece.outline.map(([x, y]) => {
      const [dx, dy] = [x - piece.x_mm, y - piece.y_mm];
      return [pin.x_mm + dx * cos - dy * sin, pin.y_mm + dx * sin + dy * cos];
    });
    const [ax, ay] = middleOf(piece.outline);
    const [bx, by] = middleOf(outline);
    const elsewhere = Math.hypot(ax - bx, ay - by) > 0.05 || Math.abs(Math.sin(turn / 2)) > 1e-6;
    moved += elsewhere ? 1 : 0;
    return { ...piece, ...pin, outline, pinned: true, elsewhere };
  });
  return { ...lay, pieces, moved };
}
