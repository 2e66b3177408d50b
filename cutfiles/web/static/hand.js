// Moving a piece by hand: with a pointer, by touch, or with keys. Whether it may lie there is the program's
// own judgement (`trial`); the page only shows it.
//
// A piece is first chosen, then moved. Pointer: press and drag. Touch: tap it, then drag it (so that a finger can
// still scroll the page). Keys: the arrows go from piece to piece; Enter takes one up; then the arrows move it,
// R turns it, Enter puts it down and Escape puts it back.

import { ask } from "./ask.js";
import { drawBar } from "./hand_bar.js";
import { boundsOf, calledOf, middleOf, turned } from "./lay_view.js";
import { alarm, say } from "./say.js";

const STEP_MM = 10;
const SMALL_STEP_MM = 1;
const HELD_PX = 4;
const TURN_DEG = 45;
const SNAP_MM = 6;

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

function round(degrees) {
  return ((degrees % 360) + 360) % 360;
}

export class Hand {
  // pinned: called with the chosen piece after pieces were pinned or unpinned
  constructor(keeper, view, bar, { unit, result, pinned }) {
    this.keeper = keeper;
    this.view = view;
    this.bar = bar;
    this.unit = unit;
    this.result = result;
    this.pinned = pinned;
    this.pieces = new Map(view.lay.pieces.map((piece) => [piece.id, piece]));
    this.edges = boundsOf(view.lay.pieces.flatMap((piece) => piece.outline));
    this.chosen = null;
    this.held = null; // {dx, dy, turn} of the chosen piece, while it is off its place
    this.pressed = null; // the pointer that drags it, and where from
    this.verdict = null;
    this.asking = false;
    for (const [id, group] of view.groups) {
      group.setAttribute("tabindex", "-1");
      group.setAttribute("role", "button");
      group.setAttribute("aria-label", this.nameOf(id));
      group.setAttribute("aria-pressed", "false");
      group.id = `piece-${view.number}-${id}`;
      group.addEventListener("focus", () => this.choose(id));
    }
    this.view.groups.values().next().value?.setAttribute("tabindex", "0");
    view.svg.addEventListener("keydown", (event) => this.key(event));
    // a finger on the chosen piece moves it and scrolls nothing (touch-action does not hold within drawings)
    view.svg.addEventListener("touchstart", (event) => this.pressed && event.cancelable && event.preventDefault(), { passive: false });
    view.svg.addEventListener("pointerdown", (event) => this.press(event));
    view.svg.addEventListener("pointermove", (event) => this.drag(event));
    view.svg.addEventListener("pointerup", (event) => this.release(event));
    view.svg.addEventListener("pointercancel", (event) => {
      if (!this.isPressing(event)) return; // another finger, or one that scrolls: what is held stays
      this.pressed = null;
      this.back();
    });
    this.show();
  }

  get piece() {
    return this.pieces.get(this.chosen);
  }

  nameOf(id) {
    const piece = this.pieces.get(id);
    return calledOf(piece) + (piece.pinned ? ", pinned" : "");
  }

  choose(id) {
    if (this.chosen === id) return;
    this.turning = null;
    if (this.held) this.back();
    this.view.groups.get(this.chosen)?.classList.remove("chosen");
    this.view.groups.get(this.chosen)?.setAttribute("tabindex", "-1");
    this.chosen = id;
    const group = this.view.groups.get(id);
    group.classList.add("chosen");
    group.setAttribute("tabindex", "0");
    this.verdict = null;
    this.show();
  }

  // Where the held piece lies: the origin of its own frame, and its turn.
  place(held = this.held) {
    const { piece } = this;
    const [x, y] = turned([piece.x_mm, piece.y_mm], held.turn, middleOf(piece.outline));
    return { x_mm: x + held.dx, y_mm: y + held.dy, turn_deg: round(piece.turn_deg + held.turn) };
  }

  // ---- pointer and touch

  isPressing(event) {
    return this.pressed?.pointer === event.pointerId;
  }

  press(event) {
    if (this.pressed) return;
    const group = event.target.closest?.("[data-piece]");
    if (!group || event.button > 0) return;
    const id = group.dataset.piece;
    const wasChosen = this.chosen === id;
    group.focus({ preventScroll: true });
    this.choose(id);
    // a finger that meets a piece for the first time may want to scroll
    if (event.pointerType === "touch" && !wasChosen) return;
    event.preventDefault();
    this.view.svg.setPointerCapture(event.pointerId);
    const held = this.held ?? { dx: 0, dy: 0, turn: 0 };
    this.pressed = { pointer: event.pointerId, at: this.view.placeOf(event), x: event.clientX, y: event.clientY, from: held, moved: false };
  }

  drag(event) {
    const start = this.pressed;
    if (!this.isPressing(event)) return;
    if (!start.moved && Math.hypot(event.clientX - start.x, event.clientY - start.y) < HELD_PX) return;
    start.moved = true;
    const [x, y] = this.view.placeOf(event);
    const held = { ...start.from, dx: start.from.dx + x - start.at[0], dy: start.from.dy + y - start.at[1] };
    this.hold(this.atEdge(held));
  }

  // A hand is not as exact as a nest: a dragged piece stays on the cloth, and near an edge of it, it is laid to
  // where pieces lie there.
  atEdge(held) {
    const { x0, y0, y1 } = boundsOf(this.outline(held));
    const inside = (off) => (off > -SNAP_MM ? off : 0);
    const right = inside(this.edges.x0 - x0);
    const up = inside(this.edges.y0 - y0);
    const down = inside(y1 - this.edges.y1);
    return { ...held, dx: held.dx + right, dy: held.dy + (up || -down) };
  }

  async release(event) {
    if (!this.isPressing(event)) return;
    const { moved } = this.pressed;
    this.pressed = null;
    if (moved) await this.putDown();
  }

  // ---- keys

  key(event) {
    if (event.altKey || event.ctrlKey || event.metaKey || !this.piece) return;
    const way = ARROWS[event.key];
    if (way) {
      event.preventDefault();
      if (this.held) this.push(way, event.shiftKey ? SMALL_STEP_MM : STEP_MM);
      else this.next(way);
      return;
    }
    const work = { Enter: "enter", " ": "enter", r: "turn", R: "turn", Escape: "escape", p: "pinHere", P: "pinHere", u: "unpin", U: "unpin" }[event.key];
    if (!work) return;
    event.preventDefault();
    this[work]();
  }

  push([wx, wy], step = STEP_MM) {
    this.hold({ ...this.held, dx: this.held.dx + wx * step, dy: this.held.dy + wy * step });
  }

  enter() {
    if (this.held) this.putDown();
    else this.take();
  }

  escape() {
    this.turning = null;
    if (this.held) this.back("It is back where it lay.");
  }

  // The nearest piece that way.
  next([wx, wy]) {
    const [x, y] = middleOf(this.piece.outline);
    let best = null;
    let least = Infinity;
    for (const [id, other] of this.pieces) {
      const [ox, oy] = middleOf(other.outline);
      const ahead = (ox - x) * wx + (oy - y) * wy;
      const aside = Math.abs((ox - x) * wy - (oy - y) * wx);
      if (id === this.chosen || ahead < 1) continue;
      const far = ahead + 2 * aside;
      if (far < least) [best, least] = [id, far];
    }
    if (best) this.view.groups.get(best).focus({ preventScroll: false });
  }

  take() {
    this.hold({ dx: 0, dy: 0, turn: 0 });
    say(`${calledOf(this.piece)} is taken up. Arrows move it, R turns it, Enter puts it down, Escape puts it back.`);
  }

  // To the next turn that its grain allows: the program is asked which that is.
  async turn() {
    const held = this.held ?? { dx: 0, dy: 0, turn: 0 };
    const now = round(this.piece.turn_deg + held.turn);
    const asked = Symbol("turn");
    this.turning = asked;
    for (let on = TURN_DEG; on < 360; on += TURN_DEG) {
      const { turn_deg } = await this.trial({ ...this.place(held), turn_deg: round(now + on) });
      if (this.turning !== asked) return; // put back, or another piece chosen, meanwhile
      if (Math.abs(round(turn_deg - now + 180) - 180) > 0.01) {
        this.hold({ ...held, turn: held.turn + turn_deg - now });
        return;
      }
    }
    this.show("Its grain allows no other turn.");
    alarm("Its grain allows no other turn.");
  }

  // ---- off its place

  hold(held) {
    this.held = held;
    this.draw();
    this.try();
    this.show();
  }

  outline(held = this.held) {
    const { piece } = this;
    const middle = middleOf(piece.outline);
    return piece.outline.map((point) => {
      const [x, y] = turned(point, held.turn, middle);
      return [x + held.dx, y + held.dy];
    });
  }

  draw() {
    const { view, piece, held } = this;
    if (!piece) return;
    const group = view.groups.get(this.chosen);
    group.classList.toggle("held", Boolean(held));
    group.setAttribute("aria-pressed", String(Boolean(held)));
    view.over.replaceChildren();
    const letter = [...view.letters.children].find((text) => text.dataset.piece === this.chosen);
    if (!held) {
      group.removeAttribute("transform");
      letter?.removeAttribute("visibility");
      return;
    }
    letter?.setAttribute("visibility", "hidden");
    const [cx, cy] = middleOf(piece.outline);
    group.setAttribute("transform", `translate(${held.dx} ${held.dy}) rotate(${held.turn} ${cx} ${cy})`);
    group.parentNode.append(group);
    if (view.svg.ownerDocument.activeElement !== group) group.focus({ preventScroll: true });
    const refused = this.verdict && !this.verdict.fits;
    group.classList.toggle("refused", Boolean(refused));
    if (refused) view.drawClash(this.outline(), this.verdict.against.map((id) => this.pieces.get(id)).filter(Boolean));
  }

  // One question at a time; the last place is always asked.
  async try() {
    if (this.asking) {
      this.askAgain = true;
      return;
    }
    this.asking = true;
    try {
      do {
        this.askAgain = false;
        if (!this.held) break;
        const { chosen } = this;
        const verdict = await this.trial();
        if (!this.held || this.askAgain || this.chosen !== chosen) continue;
        this.takeIn(verdict);
      } while (this.askAgain);
    } finally {
      this.asking = false;
    }
  }

  // Whether the chosen piece may lie in a place; `onlyLoose` where nothing but pieces that are not pinned is in
  // its way, which the next nest lays round it.
  async trial(place = this.place()) {
    const moved = [...this.pieces.values()]
      .filter((piece) => piece.elsewhere && piece.id !== this.chosen)
      .map(({ id, x_mm, y_mm, turn_deg }) => ({ piece: id, x_mm, y_mm, turn_deg }));
    try {
      const verdict = await ask(`${this.keeper.path}/trial`, { piece: this.chosen, ...place, moved, result: this.result });
      const others = verdict.against.map((id) => this.pieces.get(id));
      const onlyLoose = others.length > 0 && others.length === verdict.reasons.length && others.every((piece) => !piece?.pinned);
      return { ...verdict, onlyLoose };
    } catch (refused) {
      return { fits: false, against: [], reasons: [refused.message], onlyLoose: false, turn_deg: place.turn_deg };
    }
  }

  takeIn(verdict) {
    const before = this.verdict ? this.told(this.verdict) : "";
    this.verdict = verdict;
    this.draw();
    this.show();
    const words = this.told(verdict);
    // of a piece just taken up it says nothing new, and would cut short what its keys do
    if (words !== before && !(verdict.fits && this.lies())) (verdict.fits ? say : alarm)(words);
  }

  told(verdict) {
    if (verdict.fits) return "It fits here.";
    return `It cannot lie here. ${this.reasons(verdict)}`;
  }

  // What else is in the way than other pieces is said as the program says it, with pieces by their names.
  reasons({ against, reasons }) {
    const others = against.map((id) => this.pieces.get(id)).filter(Boolean).map(calledOf);
    const on = others.length ? `It lies on, or too near: ${others.join(", ")}.` : "";
    const rest = reasons
      .filter((words) => !against.some((id) => words.includes(id)))
      .map((words) => words.replace(/^[a-z_]+: /, "").replace(this.chosen, calledOf(this.piece)))
      .map((words) => `${words.charAt(0).toUpperCase()}${words.slice(1)}.`);
    return [on, ...rest].filter(Boolean).join(" ");
  }

  // Whether the held piece is where it was taken up.
  lies() {
    return Math.hypot(this.held.dx, this.held.dy) < 0.05 && this.held.turn === 0;
  }

  async putDown() {
    if (!this.held) return;
    if (this.lies()) {
      this.back("It lies where it lay.");
      return;
    }
    const { chosen } = this;
    const verdict = await this.trial();
    if (!this.held || this.chosen !== chosen) return; // put back, or another piece taken up, meanwhile
    this.takeIn(verdict);
    if (this.verdict.fits) await this.pin(this.place(), this.verdict);
    else if (!this.verdict.onlyLoose) this.back(`Refused, and put back. ${this.reasons(this.verdict)}`, true);
    else this.show();
  }

  back(words, refused = false) {
    this.held = null;
    this.verdict = refused ? this.verdict : null;
    this.view.groups.get(this.chosen)?.classList.remove("refused");
    this.draw();
    this.show(refused ? words : "");
    if (words) (refused ? alarm : say)(words);
  }

  // ---- pins

  async pin(place, verdict) {
    const snapped = verdict?.turn_deg ?? place.turn_deg;
    await this.change("pin", [{ piece: this.chosen, ...place, turn_deg: snapped }], `${calledOf(this.piece)} is pinned there.`);
  }

  async pinHere() {
    if (this.held) {
      if (this.verdict?.fits || this.verdict?.onlyLoose) await this.pin(this.place(), this.verdict);
      else alarm("It cannot be pinned here.");
      return;
    }
    const { x_mm, y_mm, turn_deg } = this.piece;
    await this.pin({ x_mm, y_mm, turn_deg });
  }

  async unpin() {
    if (!this.piece?.pinned) return;
    await this.change("unpin", [this.chosen], `${calledOf(this.piece)} is no longer pinned.`);
  }

  async pinAll() {
    const free = [...this.pieces.values()].filter((piece) => !piece.pinned);
    await this.change(
      "pin",
      free.map(({ id, x_mm, y_mm, turn_deg }) => ({ piece: id, x_mm, y_mm, turn_deg })),
      "Every piece is pinned where it lies.",
    );
  }

  async unpinAll() {
    const pinned = [...this.pieces.values()].filter((piece) => piece.pinned);
    await this.change("unpin", pinned.map(({ id }) => id), "No piece is pinned any more.");
  }

  async change(what, pieces, words) {
    const chosen = this.chosen;
    try {
      this.held = null;
      await this.keeper.call(what, { pieces });
      say(words);
      this.pinned(chosen);
    } catch (refused) {
      const said =
        refused.isStale
          ? "Another window changed this order first. Its changes are shown now: move the piece once more."
          : refused.message;
      if (refused.isStale) await this.keeper.look();
      this.back(said, true);
    }
  }

  // What is said of the chosen piece, and offered; `refusal` is why it was put back.
  show(refusal = "") {
    drawBar(this, refusal);
  }
}
