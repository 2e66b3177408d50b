// Draws one lay to scale: the cloth, its flaws, the pieces. Drawn with y up as the lay has it, in millimetres.

import { button, drawn, make } from "./build.js";
import { counted } from "./words.js";

const EDGE_MM = 14;
const TINTS = 6;
let drawings = 0;

// Lays as the program shows them, the place of each piece by two names.
export function placed(lays) {
  return lays.map((lay) => ({
    ...lay,
    pieces: lay.pieces.map((piece) => (piece.at_mm ? { ...piece, x_mm: piece.at_mm[0], y_mm: piece.at_mm[1] } : piece)),
  }));
}

export function pathOf(points) {
  return `M${points.map(([x, y]) => `${x.toFixed(2)} ${y.toFixed(2)}`).join("L")}Z`;
}

export function boundsOf(points) {
  const xs = points.map(([x]) => x);
  const ys = points.map(([, y]) => y);
  return { x0: Math.min(...xs), x1: Math.max(...xs), y0: Math.min(...ys), y1: Math.max(...ys) };
}

export function middleOf(points) {
  const { x0, x1, y0, y1 } = boundsOf(points);
  return [(x0 + x1) / 2, (y0 + y1) / 2];
}

// A point turned round another, counter-clockwise.
export function turned([x, y], degrees, [cx, cy]) {
  const angle = (degrees * Math.PI) / 180;
  const [dx, dy] = [x - cx, y - cy];
  return [cx + dx * Math.cos(angle) - dy * Math.sin(angle), cy + dx * Math.sin(angle) + dy * Math.cos(angle)];
}

// "crown of cap 3"
export function calledOf(piece) {
  const cap = /^cap-0*(\d+)-/.exec(piece.id);
  return cap ? `${piece.name} of cap ${cap[1]}` : `${piece.name} (${piece.id})`;
}

function short(piece) {
  const cap = /^cap-0*(\d+)-/.exec(piece.id);
  return cap ? `${piece.name} ${cap[1]}` : piece.name;
}

export class LayView {
  constructor(lay, { words, handled = false }) {
    this.lay = lay;
    this.number = ++drawings;
    this.groups = new Map();
    const { width_mm: width, length_mm: length } = lay;
    this.svg = drawn("svg", {
      class: "lay",
      viewBox: `${-EDGE_MM} ${-EDGE_MM} ${length + 2 * EDGE_MM} ${width + 2 * EDGE_MM}`,
      role: handled ? "group" : "img",
      "aria-label": words ?? `${lay.name}: ${counted(lay.pieces.length, "piece")} on ${lay.cloth}, to scale`,
    });
    this.svg.append(this.patterns());
    this.upright = drawn("g", { transform: `matrix(1 0 0 -1 0 ${width})` });
    this.under = drawn("g", {});
    this.over = drawn("g", { class: "over", "aria-hidden": "true" });
    this.letters = drawn("g", { class: "letters", "aria-hidden": "true" });
    this.under.append(drawn("rect", { class: "cloth", x: 0, y: 0, width: length, height: width }));
    if (lay.remnant) this.under.append(drawn("path", { class: "remnant", d: pathOf(lay.remnant) }));
    for (const flaw of lay.flaws ?? []) {
      this.under.append(drawn("path", { class: "flaw", d: pathOf(flaw), fill: `url(#flaw-${this.number})` }));
    }
    const names = [...new Set(lay.pieces.map((piece) => piece.name))];
    this.bodies = drawn("g", {});
    for (const piece of lay.pieces) {
      const path = drawn("path", { d: pathOf(piece.outline) });
      const group = drawn(
        "g",
        { class: `piece tint-${names.indexOf(piece.name) % TINTS}`, "data-piece": piece.id },
        drawn("title", {}, calledOf(piece)),
        path,
      );
      if (piece.pinned) this.pin(group, piece);
      this.groups.set(piece.id, group);
      this.bodies.append(group);
      this.letters.append(this.letter(piece));
    }
    this.upright.append(this.under, this.bodies, this.over);
    this.svg.append(this.upright, this.letters);
  }

  patterns() {
    const hatch = (name, turn, step) =>
      drawn(
        "pattern",
        { id: `${name}-${this.number}`, width: step, height: step, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${turn})` },
        drawn("rect", { class: `${name}-ground`, width: step, height: step }),
        drawn("path", { class: `${name}-stripe`, d: `M0 0V${step}`, "stroke-width": step / 2 }),
      );
    return drawn("defs", {}, hatch("clash", 45, 12), hatch("flaw", -45, 10));
  }

  pin(group, piece) {
    const [x, y] = middleOf(piece.outline);
    group.classList.add("pinned");
    group.append(drawn("path", { class: "pin", d: `M${x} ${y - 30}m-9 0a9 9 0 1 0 18 0a9 9 0 1 0 -18 0M${x} ${y - 39}v-22` }));
  }

  letter(piece) {
    const { x0, x1, y0, y1 } = boundsOf(piece.outline);
    const words = short(piece);
    const upright = y1 - y0 > 1.4 * (x1 - x0);
    const room = upright ? y1 - y0 : x1 - x0;
    const high = upright ? x1 - x0 : y1 - y0;
    const size = Math.min(26, 0.55 * high, (1.5 * room) / words.length);
    const x = (x0 + x1) / 2;
    const y = this.lay.width_mm - (y0 + y1) / 2;
    const text = drawn(
      "text",
      { x: x.toFixed(1), y: y.toFixed(1), "font-size": size.toFixed(1), "text-anchor": "middle", "dominant-baseline": "central" },
      words,
    );
    if (upright) text.setAttribute("transform", `rotate(-90 ${x.toFixed(1)} ${y.toFixed(1)})`);
    text.dataset.piece = piece.id;
    return text;
  }

  // What lies on what: striped, with a thick broken edge.
  drawClash(outline, others) {
    const clip = `over-${this.number}`;
    const moved = pathOf(outline);
    this.over.append(drawn("clipPath", { id: clip }, drawn("path", { d: moved })));
    for (const other of others) {
      const there = pathOf(other.outline);
      this.over.append(
        drawn("path", { class: "clash", d: there, "clip-path": `url(#${clip})`, fill: `url(#clash-${this.number})` }),
        drawn("path", { class: "struck", d: there }),
      );
    }
    this.over.append(drawn("path", { class: "striker", d: moved }));
  }

  // Where on the lay a pointer is, in mm, y up.
  placeOf(event) {
    const there = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return [there.x, this.lay.width_mm - there.y];
  }
}

// A frame that scrolls, and buttons to see the lay larger; `scales` keeps how large each lay is seen.
export function sizable(view, scales) {
  const { name } = view.lay;
  const frame = make("div", { class: "sheet", role: "region", "aria-label": `${name}, which scrolls where it is larger than its frame` }, view.svg);
  const size = (factor) => {
    const scale = Math.min(6, Math.max(1, (scales.get(name) ?? 1) * factor));
    scales.set(name, scale);
    view.svg.style.width = `${100 * scale}%`;
    frame.classList.toggle("larger", scale > 1);
  };
  size(1);
  const tools = make(
    "p",
    { class: "row" },
    button("Larger", () => size(1.5), { class: "quiet" }),
    button("Smaller", () => size(1 / 1.5), { class: "quiet" }),
    button("Whole", () => size(0), { class: "quiet" }),
  );
  return { frame, tools };
}
