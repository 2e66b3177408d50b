// What is seen of a drawing, and how it is moved: by pointers, wheel and calls.

const BEYOND = 0.25; // drawn beyond each edge of the stage, in its own size
const CLOSEST = 40; // pixels a millimetre
const SETTLE_MS = 160;
const LETTERS_FROM = 0.35; // pixels a millimetre at which labels can be read
const MARKS_FROM = 0.15; // and stitch lines told from outlines
const TAP_PX = 5;
const FRAMES = 4;
const SHARE = 10; // of the time while something moves, one part in so many goes into drawing anew

/**
 * A stage and the SVG drawing in it. While it is moved, what was drawn is only shifted and scaled;
 * it is drawn anew when it comes to rest, or, as far as there is time for it, when something else
 * than was drawn is to be seen. Widths of lines are only set at rest, for they cost the most.
 * `x` and `y` are in the drawing's units, of the stage's upper left corner; `k` is pixels a unit.
 */
export class View {
  constructor(stage, svg) {
    this.stage = stage;
    this.svg = svg;
    this.sheet = svg.parentElement;
    this.box = svg.getAttribute("viewBox").split(" ").map(Number);
    this.onTap = () => {};
    this.onPoint = () => {};
    this.pointers = new Map();
    this.base = null;
    this.cost = 0;
    this.drawnAt = 0;
    this.measure();
    this.whole();
    new ResizeObserver(() => this.resized()).observe(stage);
    this.listen();
  }

  measure() {
    const [, , wide, high] = this.box;
    this.wide = this.stage.clientWidth;
    const least = Math.min(320, window.innerHeight * 0.6);
    const most = Math.max(least, window.innerHeight * 0.75);
    this.high = Math.round(Math.min(Math.max((this.wide * high) / wide, least), most));
    this.stage.style.height = `${this.high}px`;
    const origin = `${BEYOND * this.wide}px ${BEYOND * this.high}px`;
    this.sheet.style.transformOrigin = origin;
    this.least = Math.min(this.wide / wide, this.high / high);
  }

  resized() {
    const wide = this.stage.clientWidth;
    if (this.isPrinting || wide === this.wide || wide === 0) return;
    const wasWhole = this.isWhole;
    this.measure();
    if (wasWhole) this.whole();
    else this.move(this.x, this.y, this.k);
    this.redraw();
  }

  get isWhole() {
    return this.k <= this.least * 1.001;
  }

  /** All of the drawing. */
  whole() {
    this.move(this.box[0], this.box[1], this.least);
  }

  /** By pixels. */
  pan(dx, dy) {
    this.move(this.x - dx / this.k, this.y - dy / this.k, this.k);
  }

  /** By a factor, about a place on the stage. */
  zoom(factor, px = this.wide / 2, py = this.high / 2) {
    const k = Math.min(Math.max(this.k * factor, this.least), CLOSEST);
    this.move(this.x + px / this.k - px / k, this.y + py / this.k - py / k, k);
  }

  /** So that a region of the drawing is seen. */
  show(box) {
    const isSeen = (this.x <= box.x && this.y <= box.y
      && box.x + box.width <= this.x + this.wide / this.k
      && box.y + box.height <= this.y + this.high / this.k);
    if (isSeen) return;
    const fit = 0.9 * Math.min(this.wide / box.width, this.high / box.height);
    const k = Math.max(Math.min(this.k, fit), this.least);
    const x = box.x + box.width / 2 - this.wide / 2 / k;
    this.move(x, box.y + box.height / 2 - this.high / 2 / k, k);
  }

  move(x, y, k) {
    const [left, top, wide, high] = this.box;
    this.k = k;
    this.x = within(x, left, wide, this.wide / k);
    this.y = within(y, top, high, this.high / k);
    this.stage.classList.toggle("zoomed", !this.isWhole);
    if (!this.waiting) {
      this.waiting = requestAnimationFrame(() => {
        this.waiting = 0;
        this.draw();
      });
    }
  }

  draw() {
    const isFresh = performance.now() - this.drawnAt < SHARE * Math.max(this.cost, 10);
    if (!this.base) return this.redraw();
    if (!isFresh && !this.covers()) this.redrawBox();
    const { x, y, k } = this.base;
    const shift = `translate(${(x - this.x) * this.k}px,${(y - this.y) * this.k}px)`;
    this.sheet.style.transform = `${shift} scale(${this.k / k})`;
    clearTimeout(this.settling);
    this.settling = setTimeout(() => this.redraw(), SETTLE_MS);
  }

  /** Whether what was drawn holds all that is to be seen, and is fine enough. */
  covers() {
    const { x, y, k } = this.base;
    const [left, top, wide, high] = this.box;
    const [ox, oy] = [(BEYOND * this.wide) / k, (BEYOND * this.high) / k];
    const scale = this.k / k;
    return (scale < 3 && scale > 0.4
      && Math.max(this.x, left) >= x - ox && Math.max(this.y, top) >= y - oy
      && Math.min(this.x + this.wide / this.k, left + wide) <= x + this.wide / k + ox
      && Math.min(this.y + this.high / this.k, top + high) <= y + this.high / k + oy);
  }

  redraw() {
    this.isPrinting = false;
    clearTimeout(this.settling);
    this.redrawBox();
    this.svg.style.setProperty("--u", 1 / this.k);
    this.svg.classList.toggle("far", this.k < LETTERS_FROM);
    this.svg.classList.toggle("farther", this.k < MARKS_FROM);
  }

  redrawBox() {
    const { x, y, k } = this;
    const [ox, oy] = [BEYOND * this.wide, BEYOND * this.high];
    const sizes = [x - ox / k, y - oy / k, (this.wide + 2 * ox) / k, (this.high + 2 * oy) / k];
    this.svg.setAttribute("viewBox", sizes.join(" "));
    this.sheet.style.transform = "none";
    this.base = { x, y, k };
    this.time(performance.now(), FRAMES);
  }

  /** How long it takes until some frames after a drawing have come: it is drawn behind them. */
  time(began, frames) {
    this.drawnAt = performance.now();
    if (frames > 0) requestAnimationFrame(() => this.time(began, frames - 1));
    else this.cost = Math.max(0, this.drawnAt - began - (FRAMES * 1000) / 60);
  }

  /** All of it, for paper. */
  print() {
    this.isPrinting = true;
    clearTimeout(this.settling);
    this.svg.setAttribute("viewBox", this.box.join(" "));
    this.svg.style.setProperty("--u", this.box[2] / 1000);
    this.sheet.style.transform = "none";
    this.svg.classList.remove("far", "farther");
    this.base = null;
  }

  /** The place in the drawing under a pointer. */
  placeOf(event) {
    const edge = this.stage.getBoundingClientRect();
    const [px, py] = [event.clientX - edge.left, event.clientY - edge.top];
    return [this.x + px / this.k, this.y + py / this.k, px, py];
  }

  listen() {
    const { stage, pointers } = this;
    stage.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && !stage.contains(document.activeElement)) return;
      event.preventDefault();
      const [, , px, py] = this.placeOf(event);
      const lines = event.deltaMode === WheelEvent.DOM_DELTA_LINE ? 16 : 1;
      this.zoom(Math.exp(-event.deltaY * lines * 0.0016), px, py);
    }, { passive: false });
    stage.addEventListener("pointerdown", (event) => {
      if (event.button > 0) return;
      const [, , px, py] = this.placeOf(event);
      pointers.set(event.pointerId, { px, py, from: [px, py], target: event.target });
      this.isTap = pointers.size === 1;
    });
    stage.addEventListener("pointermove", (event) => {
      const [x, y, px, py] = this.placeOf(event);
      this.onPoint(x, y, event.target);
      const held = pointers.get(event.pointerId);
      if (!held) return;
      if (event.pointerType === "mouse" && !event.buttons) { // let go beyond the stage
        pointers.delete(event.pointerId);
        return;
      }
      if (Math.hypot(px - held.from[0], py - held.from[1]) > TAP_PX && this.isTap) {
        this.isTap = false;
        stage.setPointerCapture(event.pointerId);
      }
      if (!this.isTap) this.drag(event.pointerId, px, py);
      Object.assign(held, { px, py });
    });
    const lift = (event) => {
      const held = pointers.get(event.pointerId);
      pointers.delete(event.pointerId);
      if (!held || !this.isTap || event.type === "pointercancel") return;
      this.isTap = false;
      const [x, y] = this.placeOf(event);
      this.onTap(x, y, held.target);
    };
    for (const kind of ["pointerup", "pointercancel"]) stage.addEventListener(kind, lift);
  }

  /** One pointer moves the drawing, two hold two of its places. */
  drag(id, px, py) {
    const held = this.pointers.get(id);
    if (this.pointers.size === 1) return this.pan(px - held.px, py - held.py);
    const [, other] = [...this.pointers].find(([key]) => key !== id);
    const before = Math.hypot(held.px - other.px, held.py - other.py);
    const after = Math.hypot(px - other.px, py - other.py);
    this.pan((px - held.px) / 2, (py - held.py) / 2);
    this.zoom(after / Math.max(before, 1), (px + other.px) / 2, (py + other.py) / 2);
  }
}

/** Where a window on a line from `start`, `size` long, may begin; in the middle if it is longer. */
function within(at, start, size, window) {
  if (window >= size) return start + (size - window) / 2;
  return Math.min(Math.max(at, start), start + size - window);
}
