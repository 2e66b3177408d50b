// A ruler: from one point of a lay to another.

import { asLength, drawn } from "./geometry.js";

/** Two points and the line between them; the second follows the pointer or the cross until set. */
export class Ruler {
  constructor(section, lay, view) {
    this.lay = lay;
    this.view = view;
    this.button = section.querySelector("[data-do=ruler]");
    this.line = section.querySelector(".measured");
    this.output = this.line.querySelector("output");
    this.stage = section.querySelector(".stage");
    this.way = drawn("path", { class: "ruler" });
    this.cross = drawn("path", { class: "cross" });
    this.group = drawn("g", { class: "role-ruler hidden" });
    this.group.append(this.way, this.cross);
    view.svg.append(this.group);
    this.isOn = false;
  }

  toggle(isOn = !this.isOn) {
    this.isOn = isOn;
    this.points = [];
    this.button.setAttribute("aria-pressed", String(isOn));
    this.stage.classList.toggle("measuring", isOn);
    this.group.classList.toggle("hidden", !isOn);
    this.line.hidden = !isOn;
    this.output.textContent = isOn ? "Ruler: set two points." : "";
    const { view } = this;
    this.at = [view.x + view.wide / 2 / view.k, view.y + view.high / 2 / view.k];
    this.draw();
  }

  /** The cross, by pixels. */
  nudge(dx, dy) {
    this.follow(this.at[0] + dx / this.view.k, this.at[1] + dy / this.view.k);
    const [x, y] = this.at;
    this.view.show({ x, y, width: 0.01, height: 0.01 });
  }

  follow(x, y) {
    this.at = [x, y];
    this.draw();
  }

  /** A third point is the first of another measurement. */
  set(x = this.at[0], y = this.at[1]) {
    this.at = [x, y];
    this.points = this.points.length === 2 ? [[x, y]] : [...this.points, [x, y]];
    this.draw();
    if (this.points.length === 2) this.tell();
    else this.output.textContent = "Ruler: first point set; set the second.";
  }

  tell() {
    const [[x0, y0], [x1, y1]] = this.points;
    const [along, across] = [Math.abs(x1 - x0), Math.abs(y1 - y0)];
    const parts = [Math.hypot(along, across), along, across].map((mm) => asLength(mm, this.lay));
    this.output.textContent = `Ruler: ${parts[0]}; along the cloth ${parts[1]}, across ${parts[2]}.`;
  }

  draw() {
    const u = 1 / this.view.k;
    const [x, y] = this.at;
    this.cross.setAttribute("d", `M${x - 9 * u} ${y}h${18 * u}M${x} ${y - 9 * u}v${18 * u}`);
    const [from, to = this.at] = this.points;
    if (!from) return this.way.setAttribute("d", "");
    const long = Math.hypot(to[0] - from[0], to[1] - from[1]) || 1;
    const [tx, ty] = [(-(to[1] - from[1]) / long) * 6 * u, ((to[0] - from[0]) / long) * 6 * u];
    const end = ([px, py]) => `M${px - tx} ${py - ty}L${px + tx} ${py + ty}`;
    this.way.setAttribute("d", `M${from.join(" ")}L${to.join(" ")}${end(from)}${end(to)}`);
  }
}
