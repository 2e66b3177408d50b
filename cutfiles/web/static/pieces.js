// The pieces as they are drafted for the order, drawn anew whenever it changes, and the walk of their seams.

import { ask } from "./ask.js";
import { after, byId, drawn, make, redraw } from "./build.js";
import { boundsOf, pathOf } from "./lay_view.js";
import { counted, fine, length, unitOf } from "./words.js";

const PAUSE_MS = 150;
const EDGE_MM = 6;
const PX_PER_MM = 0.5;

function open(points) {
  return `M${points.map(([x, y]) => `${x} ${y}`).join("L")}`;
}

// One piece in its own frame, y up, so many pixels a millimetre.
export function pieceDrawing(piece, scale) {
  const { x0, x1, y0, y1 } = boundsOf(piece.outline);
  const [wide, high] = [x1 - x0 + 2 * EDGE_MM, y1 - y0 + 2 * EDGE_MM];
  const [from, to] = piece.grain;
  const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
  const far = Math.hypot(dx, dy) || 1;
  const barb = (side) => {
    const [ux, uy] = [dx / far, dy / far];
    return `M${to[0]} ${to[1]}L${to[0] - 9 * ux - side * 4 * uy} ${to[1] - 9 * uy + side * 4 * ux}`;
  };
  const svg = drawn(
    "svg",
    { class: "pattern", viewBox: `${x0 - EDGE_MM} ${-y1 - EDGE_MM} ${wide} ${high}`, role: "img", "aria-label": `${piece.name}, drawn to scale` },
    drawn(
      "g",
      { transform: "scale(1 -1)" },
      drawn("path", { class: "cut", "fill-rule": "evenodd", d: [piece.outline, ...piece.inner].map(pathOf).join("") }),
      piece.stitch.map((line) => drawn("path", { class: "stitch", d: open(line) })),
      piece.notches.map((ends) => drawn("path", { class: "notch", d: open(ends) })),
      drawn("path", { class: "grain", d: open(piece.grain) + barb(1) + barb(-1) }),
    ),
  );
  svg.style.width = `${wide * scale}px`;
  return svg;
}

export class Pieces {
  constructor(keeper, form) {
    Object.assign(this, { keeper, form, drawnOf: "", revision: null });
    this.later = after(PAUSE_MS, () => this.look());
    keeper.listen(() => {
      if (keeper.job.revision !== this.revision) {
        this.revision = keeper.job.revision;
        this.later();
      }
    });
  }

  get unit() {
    return unitOf(this.keeper.job);
  }

  async look() {
    const { revision } = this;
    let pattern;
    try {
      pattern = await ask(`${this.keeper.path}/pattern`);
    } catch (refused) {
      if (refused.status === 422 && revision === this.revision) this.old();
      return;
    }
    if (revision !== this.revision) return;
    this.form.takeNames(pattern.lines);
    const signature = JSON.stringify([pattern.lines, pattern.panels, this.unit]);
    if (signature === this.drawnOf) {
      byId("pieces-old")?.remove();
      return;
    }
    this.drawnOf = signature;
    this.draw(pattern);
  }

  // While the order cannot be read the last drawing stays, and says so.
  old() {
    if (byId("pieces-old")) return;
    const words = this.drawnOf
      ? "The order has something to mend; these are the pieces as they were before."
      : "The order has something to mend; the pieces are drawn when it is.";
    byId("pieces-work").prepend(make("p", { id: "pieces-old", class: "stale" }, words));
  }

  draw({ lines, panels }) {
    const room = byId("pieces-work").clientWidth || 360;
    const widest = Math.max(1, ...[...lines.flatMap((line) => line.pieces), ...panels].map((piece) => piece.size_mm[0]));
    const scale = Math.min(PX_PER_MM, (room - 40) / (widest + 2 * EDGE_MM));
    const key = make(
      "p",
      { class: "help" },
      "Full lines are cut, broken lines are sewn or folded, short strokes are notches, the arrow is the grain. Drawn as drafted, without shrinkage.",
    );
    const parts = lines.map((line) => this.line(line, scale));
    const own = panels.length
      ? make("section", { class: "card", "aria-labelledby": "own-panels" }, make("h3", { id: "own-panels" }, "Panels of your own"), this.figures(panels.map((panel) => ({ ...panel, count: panel.quantity })), scale))
      : null;
    redraw(byId("pieces-work"), lines.length || panels.length ? key : make("p", { class: "empty" }, "No caps and no panels in this order yet."), parts, own);
  }

  figures(pieces, scale) {
    const { unit } = this;
    return make(
      "div",
      { class: "patterns" },
      pieces.map((piece) =>
        make(
          "figure",
          {},
          pieceDrawing(piece, scale),
          make("figcaption", {}, make("b", {}, piece.name), `${piece.count > 1 ? `, ${piece.count} of it` : ""}: ${length(piece.size_mm[0], unit)} by ${length(piece.size_mm[1], unit)}`),
        ),
      ),
    );
  }

  line(line, scale) {
    const { unit } = this;
    const id = `pattern-${line.line}-${line.size}`.replace(/\W/g, "-");
    const worst = Math.max(0, ...line.walk.map((seam) => Math.abs(seam.worst_error_mm)));
    const [low, high] = line.fit.head_mm;
    const [least, most] = line.fit.goes_round_mm;
    // a seam, and below it its stretches from notch to notch
    const row = (name, sewn, { first_mm, second_mm, ease_mm, error_mm }) =>
      make(
        "tr",
        {},
        name ? make("th", { scope: "row" }, name) : make("td", {}),
        make("td", {}, sewn),
        [first_mm, second_mm, ease_mm].map((value) => make("td", { class: "n" }, `${value.toFixed(1)} mm`)),
        make("td", { class: "n" }, `${error_mm.toFixed(3)} mm`),
      );
    const rows = line.walk.flatMap((seam) => {
      const total = (key) => seam.spans.reduce((sum, span) => sum + span[key], 0);
      const whole = { first_mm: total("first_mm"), second_mm: total("second_mm"), ease_mm: seam.ease_mm, error_mm: seam.worst_error_mm };
      const spans = seam.spans.length > 1 ? seam.spans : [];
      return [
        row(seam.seam, `${seam.first.piece} to ${seam.second.piece}`, whole),
        ...spans.map((span) => row("", `${(100 * span.from).toFixed(0)} % to ${(100 * span.to).toFixed(0)} %`, span)),
      ];
    });
    const head = ["Seam", "Sewn", "First edge", "Second edge", "Ease", "Worst error"];
    const walk = make(
      "details",
      { id: `walk-${id}` },
      make("summary", {}, `${counted(line.walk.length, "seam")} walked from notch to notch: off by ${worst.toFixed(3)} mm at the most`),
      make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": `The walk of ${line.title}` }, make("table", {}, make("thead", {}, make("tr", {}, head.map((words, k) => make("th", { scope: "col", class: k > 1 ? "n" : null }, words)))), make("tbody", {}, rows))),
      make("p", { class: "help" }, `Corners that meet at a seam: ${line.corners.map((corner) => `${corner.name} ${corner.angle_deg.toFixed(1)}°`).join(", ") || "none"}. 180° is one fair line.`),
    );
    if (byId(walk.id)?.open) walk.open = true;
    return make(
      "section",
      { class: "card", "aria-labelledby": id },
      make("h3", { id }, `${line.quantity} × ${line.title}`),
      make("p", { class: "figures" }, `For heads of ${length(low, unit)} to ${length(high, unit)}; goes round ${length(least, unit)} to ${length(most, unit)}; elastic cut to ${(unit === "in" ? fine : length)(line.fit.elastic_cut_mm, unit)}.`),
      this.figures(line.pieces, scale),
      walk,
    );
  }
}
