// The cutting played back at the machine's own time.

import { asTime, drawn, subpaths } from "./geometry.js";

const DOING = {
  outline: "cutting the outline of", inner: "cutting out of", notch: "cutting a notch of",
  stitch: "drawing a stitch line of", grain: "drawing the grain of", label: "writing the label of",
};

/** Steps in order, each with when it begins; the way of the tool; and the clock. */
export class Playback {
  constructor(section, lay, view) {
    this.section = section;
    this.lay = lay;
    this.svg = view.svg;
    this.button = section.querySelector("[data-do=play]");
    this.clock = section.querySelector(".clock");
    this.speed = section.querySelector(".speed");
    this.now = section.querySelector(".now");
    let begins = 0;
    this.steps = lay.steps.map(([role, piece, advance, travel, start, line, where]) => {
      const step = { role, piece, advance, travel, start, line, where, begins };
      begins += advance + travel + start + line;
      step.ends = begins;
      return step;
    });
    this.lasts = begins;
    this.clock.max = begins;
    this.time = 0;
    this.done = 0;
    this.clock.addEventListener("input", () => {
      this.pause();
      this.seek(Number(this.clock.value));
    });
    this.button.addEventListener("click", () => this.toggle());
    this.tell();
  }

  /** The paths of all steps, made when they are first wanted. */
  paths() {
    if (this.group) return;
    this.group = drawn("g", { class: "role-way" });
    const flip = `matrix(.01 0 0 -.01 0 ${this.lay.width_mm})`;
    const ways = drawn("g", { transform: flip });
    const marks = new Map();
    for (const step of this.steps) {
      let data = step.where;
      if (typeof data !== "string") {
        const key = `${step.role} ${step.piece}`;
        if (!marks.has(key)) {
          const path = this.svg.querySelector(`.role-${step.role} [data-p="${step.piece}"]`);
          marks.set(key, subpaths(path.getAttribute("d")));
        }
        data = step.where === null ? marks.get(key).join("") : marks.get(key)[step.where];
      }
      const kind = typeof step.where === "string" ? "cut" : `mark ${step.role}`;
      step.path = drawn("path", { d: data, class: kind });
      ways.append(step.path);
    }
    let hops = "";
    let last = "0 0";
    for (const step of this.steps) {
      if (step.path.classList.contains("mark")) continue;
      const [, x, y] = step.where.match(/^M(-?\d+) (-?\d+)/);
      hops += `M${last}L${x} ${y}`;
      last = endOf(step.where).join(" ");
    }
    const travel = drawn("path", { d: hops, class: "travel" });
    ways.append(travel);
    this.tool = drawn("circle", { class: "tool" });
    this.group.append(ways, this.tool);
    this.svg.append(this.group);
  }

  /** Whether the whole way of the tool is shown while nothing is played. */
  showWay(isShown) {
    this.paths();
    this.group.classList.toggle("all", isShown);
  }

  toggle() {
    if (this.frame) return this.pause();
    if (this.time >= this.lasts) this.seek(0);
    this.button.setAttribute("aria-pressed", "true");
    this.button.textContent = "Pause";
    let before = performance.now();
    const on = (moment) => {
      const passed = Math.max(0, moment - before) / 1000;
      before = moment;
      this.seek(this.time + passed * Number(this.speed.value));
      if (this.time < this.lasts) this.frame = requestAnimationFrame(on);
      else this.pause();
    };
    this.frame = requestAnimationFrame(on);
  }

  pause() {
    cancelAnimationFrame(this.frame);
    this.frame = 0;
    this.button.setAttribute("aria-pressed", "false");
    this.button.textContent = "Play the cutting";
  }

  /** To a time, in s. */
  seek(time) {
    this.paths();
    this.time = Math.min(Math.max(time, 0), this.lasts);
    this.svg.classList.toggle("playing", this.time > 0);
    while (this.done < this.steps.length && this.steps[this.done].ends <= this.time) {
      this.mark(this.steps[this.done], 1);
      this.done += 1;
    }
    while (this.done > 0 && this.steps[this.done - 1].ends > this.time) {
      this.done -= 1;
      this.mark(this.steps[this.done], 0);
    }
    for (const step of this.doing ?? []) if (step !== this.steps[this.done]) this.settle(step);
    this.doing = [];
    const step = this.steps[this.done];
    if (step && this.time > 0) this.partly(step);
    this.clock.value = this.time;
    this.tell();
  }

  mark(step, isDone) {
    step.path.classList.toggle("done", Boolean(isDone));
    step.path.classList.remove("doing");
    step.path.style.strokeDasharray = "";
  }

  settle(step) {
    this.mark(step, step.ends <= this.time);
  }

  /** As much of a step as is done: the tool is on its way to the line, or on it. */
  partly(step) {
    const { path } = step;
    const into = this.time - step.begins - step.advance;
    const share = step.line ? (into - step.travel - step.start) / step.line : 1;
    const long = path.getTotalLength();
    let place = path.getPointAtLength(Math.min(Math.max(share, 0), 1) * long);
    if (share > 0) {
      path.classList.add("doing");
      path.style.strokeDasharray = `${share * long} ${long + 1}`;
      this.doing = [step];
    } else if (this.done > 0) {
      const before = this.steps[this.done - 1].path;
      const from = before.getPointAtLength(before.getTotalLength());
      const onWay = step.travel ? Math.min(Math.max(into / step.travel, 0), 1) : 1;
      place = { x: from.x + (place.x - from.x) * onWay, y: from.y + (place.y - from.y) * onWay };
    }
    const [x, y] = [place.x / 100, this.lay.width_mm - place.y / 100];
    this.tool.setAttribute("transform", `translate(${x} ${y})`);
  }

  tell() {
    const step = this.steps[Math.min(this.done, this.steps.length - 1)];
    const total = `${asTime(this.time)} of ${asTime(this.lasts)}`;
    this.clock.setAttribute("aria-valuetext", total);
    this.now.textContent = `${total}${this.time > 0 ? `: ${this.words(step)}` : ""}`;
  }

  words(step) {
    if (this.time >= this.lasts) return "done.";
    const piece = this.lay.pieces[step.piece];
    const whose = `${piece.name}, ${piece.cap} (piece ${step.piece + 1})`;
    const into = this.time - step.begins;
    const number = `step ${this.done + 1} of ${this.steps.length}`;
    if (into < step.advance) return `${number}, the cloth is moved on under the ${this.lay.tool}`;
    const isOnWay = into < step.advance + step.travel;
    const doing = isOnWay ? "lifted, on the way to" : DOING[step.role];
    return `${number}, ${this.lay.tool}: ${doing} ${whose}`;
  }
}

/** Where path data of one line end. */
function endOf(data) {
  const numbers = data.match(/-?\d+/g).map(Number);
  const end = [numbers[0], numbers[1]];
  for (let k = 2; k < numbers.length; k += 1) end[k % 2] += numbers[k];
  return end;
}
