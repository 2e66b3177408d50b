// One lay brought to life: what its section holds, wired together.

import { View } from "./view.js";
import { Pieces } from "./pieces.js";
import { Ruler } from "./ruler.js";
import { Playback } from "./playback.js";

const PAN_PX = 60;
const NUDGE_PX = 10;
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** Makes the section of a lay, as `lay_section` writes it, answer to pointers and keys. */
export function openLay(section) {
  const lay = JSON.parse(section.querySelector(".lay-data").textContent);
  const stage = section.querySelector(".stage");
  section.classList.add("live");
  for (const part of section.querySelectorAll(".controls:not(.measured)")) part.hidden = false;
  stage.tabIndex = 0;
  stage.setAttribute("role", "application");
  stage.setAttribute("aria-label", `Picture of ${lay.name}: arrow keys move it, n and p choose pieces`);
  const view = new View(stage, stage.querySelector("svg"));
  const pieces = new Pieces(section, lay, view);
  const ruler = new Ruler(section, lay, view);
  const playback = new Playback(section, lay, view);
  view.onTap = (x, y, target) => {
    if (ruler.isOn) ruler.set(x, y);
    else pieces.choose(pieces.numberOf(target));
  };
  view.onPoint = (x, y, target) => {
    if (ruler.isOn && ruler.points.length < 2) ruler.follow(x, y);
    pieces.point(pieces.numberOf(target));
  };
  stage.addEventListener("pointerleave", () => pieces.point(null));
  const acts = {
    in: () => view.zoom(1.5),
    out: () => view.zoom(1 / 1.5),
    whole: () => view.whole(),
    ruler: () => ruler.toggle(),
  };
  for (const [name, act] of Object.entries(acts)) {
    section.querySelector(`[data-do=${name}]`).addEventListener("click", act);
  }
  const keys = {
    "+": acts.in, "=": acts.in, "-": acts.out, 0: acts.whole, r: acts.ruler,
    n: () => pieces.step(1),
    p: () => pieces.step(-1),
    " ": () => playback.toggle(),
    Enter: () => ruler.isOn && ruler.set(),
    Escape: () => (ruler.isOn ? ruler.toggle(false) : pieces.choose(null)),
  };
  stage.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = ARROWS[event.key];
    if (arrow && ruler.isOn) {
      const by = event.shiftKey ? NUDGE_PX / 10 : NUDGE_PX;
      ruler.nudge(arrow[0] * by, arrow[1] * by);
    } else if (arrow) view.pan(-arrow[0] * PAN_PX, -arrow[1] * PAN_PX);
    else if (keys[event.key]) keys[event.key]();
    else return;
    event.preventDefault();
  });
  section.querySelector(".roles").addEventListener("change", ({ target }) => {
    if (target.value === "way") return playback.showWay(target.checked);
    const group = view.svg.querySelector(`.role-${target.value}`);
    group.classList.toggle("hidden", !target.checked);
  });
  window.addEventListener("beforeprint", () => view.print());
  window.addEventListener("afterprint", () => view.redraw());
}
