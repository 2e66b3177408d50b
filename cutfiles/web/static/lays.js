// The lay: how long to nest, how far it is, what was found, and moving pieces of it by hand.

import { button, byId, make, redraw } from "./build.js";
import { Hand } from "./hand.js";
import { LayView, sizable } from "./lay_view.js";
import { pinsOf, withPins } from "./pins.js";
import { isGoing } from "./run.js";
import { notice, say } from "./say.js";
import { clock, counted, length, percent, unitOf } from "./words.js";

const LEAST_SECONDS = 0.1;
const MOST_SECONDS = 86_400; // a day

export class Lays {
  constructor(keeper, run, results) {
    Object.assign(this, { keeper, run, results });
    this.seconds = make("input", { id: "seconds", type: "number", min: String(LEAST_SECONDS), max: String(MOST_SECONDS), step: "any", value: "10", required: true });
    this.seed = make("input", { id: "seed", type: "number", min: "0", max: "2147483648", step: "1", value: "1" });
    this.anew = make("input", { id: "anew", type: "checkbox" });
    this.begin = button("Nest it", () => this.start(), { class: "main", id: "nest-it" });
    this.why = make("p", { class: "soft", id: "nest-why" });
    byId("nest").append(
      make(
        "div",
        { class: "card row nest-form" },
        make("div", { class: "field inline" }, make("label", { for: "seconds" }, "Seconds to search"), this.seconds),
        this.begin,
        make("details", { class: "inline" }, make("summary", {}, "About the search"), make("p", { class: "help" }, "Ten seconds find a decent lay, a minute or more a shorter one. Another seed begins elsewhere, and may find a shorter one, too."), make("div", { class: "field inline" }, make("label", { for: "seed" }, "Seed"), this.seed), make("div", { class: "ticked" }, this.anew, make("label", { for: "anew" }, "Search anew: take no lay that was found before"))),
      ),
      this.why,
    );
    this.drawnOf = "";
    this.scales = new Map();
    this.strip();
    keeper.listen(() => this.show());
    run.listen((now, before) => this.heard(now, before));
    results.listen(() => this.show());
  }

  get unit() {
    return unitOf(this.keeper.job);
  }

  async start() {
    const seconds = Number(this.seconds.value);
    if (!(seconds >= LEAST_SECONDS && seconds <= MOST_SECONDS)) {
      notice("nest", `Seconds to search: ${this.seconds.value || "nothing"}: give a number from ${LEAST_SECONDS} to ${MOST_SECONDS}.`);
      return;
    }
    try {
      await this.run.start({ seconds, seed: Math.round(Number(this.seed.value)) || 0, anew: this.anew.checked });
      say("The nest has begun. You can go on writing meanwhile.");
      byId("stop")?.focus();
    } catch (refused) {
      if (refused.isStale) await this.keeper.look();
      notice("nest", refused.isStale ? "Another window changed this order first. Its changes are shown now: look at them, and nest it then." : refused.message);
    }
  }

  // ---- the strip that stands on every step while a nest runs

  strip() {
    this.bar = make("progress", { id: "progress", max: "1", value: "0", "aria-label": "How far the nest is" });
    this.far = make("p", { id: "far" });
    this.stop = button("Stop, and keep the best so far", () => this.order("stop"), { id: "stop" });
    this.drop = button("Drop this nest", () => this.order("cancel"), { class: "quiet", id: "drop" });
    byId("running").append(this.far, make("p", { class: "row" }, this.stop, this.drop), this.bar);
  }

  async order(what) {
    if (this.run.now?.state === "writing") return;
    try {
      await this.run[what]();
    } catch (refused) {
      notice("nest", refused.message);
    }
  }

  heard(now, before) {
    const going = isGoing(now);
    const held = byId("running").contains(document.activeElement);
    byId("running").hidden = !going;
    if (going) this.showFar(now);
    if (now && before && isGoing(before) && !going) this.ended(now);
    this.show();
    if (held && !going) (byId("lay").hidden ? byId("work") : this.begin).focus({ preventScroll: true });
  }

  showFar(now) {
    const best = (now.lays ?? []).map((lay) => `${length(lay.length_mm, this.unit)} of ${lay.cloth}, ${percent(lay.efficiency)} used`);
    const soFar = best.length ? ` Best so far: ${best.join("; ")}.` : "";
    const words = {
      waiting: now.place_in_line > 0 ? `Waiting: ${counted(now.place_in_line, "nest")} before this one.` : "Waiting for its turn.",
      nesting: best.length
        ? `Nesting, ${clock(Math.min(now.seconds, now.of_seconds))} of ${clock(now.of_seconds)}.${soFar}`
        : "Nesting: drafting the pieces and looking for a first lay.",
      writing: `Writing the cut files, and reading them back.${soFar}`,
    }[now.state];
    this.far.textContent = words;
    this.bar.value = now.state === "writing" ? 1 : now.of_seconds ? Math.min(1, now.seconds / now.of_seconds) : 0;
    for (const one of [this.stop, this.drop]) one.setAttribute("aria-disabled", String(now.state === "writing"));
    // aloud only now and then: a state, or a better lay after some seconds
    const moment = `${now.state}-${Math.floor(now.seconds / 5)}`;
    if (this.moment !== moment) {
      this.moment = moment;
      say(words);
    }
  }

  ended(now) {
    if (now.state === "failed") {
      const words = (now.findings ?? []).map((finding) => finding.text).join("\n") || now.note || "The nest failed.";
      notice("nest", `No cut files were made. ${words.replaceAll("job.toml: ", "")}`);
      return;
    }
    if (now.state === "cancelled") {
      if (now.note) notice("nest", `No cut files were made: ${now.note}.`);
      else say("The nest was dropped. What was made before it is still there.");
      return;
    }
    this.results.look().then(
      () => this.sayDone(),
      (refused) => notice("nest", refused.message),
    );
  }

  sayDone() {
    const [newest] = this.results.all;
    if (newest) say(`Done: ${counted(newest.caps, "cap")}, ${length(newest.cloth_mm, this.unit)} of cloth. Every cut file was read back and found right.`);
  }

  // ---- what lies there

  show() {
    const { keeper, run, results } = this;
    const errors = (keeper.job.findings ?? []).filter((finding) => finding.severity === "error").length;
    const going = isGoing(run.now);
    this.begin.disabled = going || errors > 0;
    this.begin.textContent = results.all.length ? "Nest it again" : "Nest it";
    this.why.textContent = errors
      ? `${counted(errors, "thing")} in the order to be mended first.`
      : going
        ? "You can go on writing the order: what you change now is for the next nest. Pieces can be moved by hand when this one has ended."
        : "";
    byId("to-take").hidden = going || !results.shown;
    if (going && run.now.lays?.length) this.showLive(run.now);
    else if (results.shown) this.showResult(results.shown);
    else this.showNone(going);
  }

  once(signature, draw) {
    if (this.drawnOf === signature) return;
    this.drawnOf = signature;
    draw();
  }

  showNone(going) {
    this.once(`none-${going}`, () =>
      redraw(byId("lay-work"), make("p", { class: "empty" }, going ? "The first lay appears in a moment." : "No lay yet. Nest the order, and it is drawn here as it gets shorter.")),
    );
  }

  showLive(now) {
    const signature = `live-${now.run}-${this.unit}-${JSON.stringify(now.lays.map((lay) => [lay.name, lay.length_mm, lay.pieces.length, lay.pieces[0]?.x_mm]))}`;
    this.once(signature, () => {
      const parts = now.lays.map((lay) => {
        const view = new LayView(lay, {});
        return make("article", { class: "lay-part" }, this.head(lay), make("div", { class: "sheet" }, view.svg));
      });
      redraw(byId("lay-work"), parts);
    });
  }

  head(lay, result) {
    const flaws = lay.flaws?.length ? `, round ${counted(lay.flaws.length, "flaw")}` : "";
    return [
      make("h3", {}, result ? `Result ${result}, ${lay.name}: ${lay.cloth}` : `${lay.name}: ${lay.cloth}`),
      make("p", { class: "figures" }, `${counted(lay.pieces.length, "piece")} on ${length(lay.length_mm, this.unit)} by ${length(lay.width_mm, this.unit)}, ${percent(lay.efficiency)} of the cloth used${flaws}${lay.layers > 1 ? `, in ${lay.layers} layers` : ""}.`),
    ];
  }

  showResult(result) {
    const pins = pinsOf(this.keeper.job);
    const stale = result.revision !== this.keeper.job.revision;
    const signature = `result-${result.number}-${this.unit}-${stale}-${isGoing(this.run.now)}-${JSON.stringify([...pins])}`;
    this.once(signature, () => {
      const parts = result.lays.map((lay) => this.handled(withPins(lay, pins), result.number));
      const newer = stale
        ? make("p", { class: "stale" }, "The order was changed since this was nested. Nest it again to take the changes in: its cut files are those of the order as it was.")
        : null;
      redraw(byId("lay-work"), newer, parts);
    });
  }

  handled(lay, result) {
    const view = new LayView(lay, { handled: true });
    const { frame, tools } = sizable(view, this.scales);
    const bar = make("div", { class: "hand", role: "group", "aria-label": "The chosen piece" });
    // the lay was drawn anew by then: the piece keeps the focus all the same
    const pinned = (chosen) => chosen && document.querySelector(`[data-piece="${CSS.escape(chosen)}"][role="button"]`)?.focus({ preventScroll: true });
    new Hand(this.keeper, view, bar, { unit: this.unit, result, pinned });
    const moved = lay.moved
      ? make("p", { class: "stale" }, `${counted(lay.moved, "pinned piece")} moved since the nest: nest it again to lay the others round ${lay.moved === 1 ? "it" : "them"}.`)
      : null;
    const keys = make(
      "details",
      {},
      make("summary", {}, "Moving pieces by hand"),
      make(
        "ul",
        {},
        make("li", {}, "Mouse or pen: press on a piece and drag it. Touch: tap it first, then drag it."),
        make("li", {}, "Keys: Tab to the lay, arrows from piece to piece, Enter takes one up. Then arrows move it by 10 mm (with Shift by 1 mm), R turns it, Enter puts it down, Escape puts it back. P pins it where it lies, U unpins it."),
        make("li", {}, "A piece that was moved is pinned there: the next nest lays the others round it. It turns only as its grain allows."),
      ),
    );
    return make("article", { class: "lay-part" }, this.head(lay, result), moved, frame, bar, tools, keys);
  }
}
