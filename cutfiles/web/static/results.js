// What was made: one result a nest. Taking its files, seeing its preview, and two of them side by side.

import { ask } from "./ask.js";
import { byId, make, redraw } from "./build.js";
import { faultLines } from "./fields.js";
import { LayView, placed } from "./lay_view.js";
import { notice } from "./say.js";
import { clock, counted, length, percent, unitOf, whenever } from "./words.js";

export class Results {
  constructor(keeper) {
    this.keeper = keeper;
    this.all = [];
    this.whole = new Map();
    this.chosen = null;
    this.pair = [null, null];
    this.listeners = [];
    this.drawnOf = "";
    keeper.listen(() => this.show());
  }

  listen(listener) {
    this.listeners.push(listener);
  }

  get unit() {
    return unitOf(this.keeper.job);
  }

  get shown() {
    return this.whole.get(this.chosen) ?? null;
  }

  path(number) {
    return `${this.keeper.path}/results/${number}`;
  }

  async fetch(number) {
    if (!this.whole.has(number)) {
      const result = await ask(this.path(number));
      this.whole.set(number, { ...result, lays: placed(result.lays) });
    }
    return this.whole.get(number);
  }

  // The newest one is shown when it is new.
  async look() {
    const newest = this.all[0]?.number;
    this.all = await ask(`${this.keeper.path}/results`); // the newest first
    if (this.all.length && this.all[0].number !== newest) await this.choose(this.all[0].number);
    else this.tell();
  }

  async choose(number) {
    this.asked = number;
    await this.fetch(number);
    if (this.asked !== number) return; // another was chosen meanwhile
    this.chosen = number;
    if (this.all.length > 1) {
      const other = this.all.find((one) => one.number !== number).number;
      this.pair = [this.all.some((one) => one.number === this.pair[0]) && this.pair[0] !== number ? this.pair[0] : other, number];
      await Promise.all(this.pair.map((one) => this.fetch(one)));
    }
    this.tell();
  }

  tell() {
    this.show();
    for (const listener of this.listeners) listener(this);
  }

  show() {
    const { revision } = this.keeper.job;
    const signature = JSON.stringify([this.all.map((one) => one.number), this.chosen, this.pair, revision, this.unit]);
    if (signature === this.drawnOf) return;
    this.drawnOf = signature;
    const place = byId("files-work");
    if (!this.shown) {
      redraw(place, make("p", { class: "empty" }, "No cut files yet. When a nest ends, they are written, read back, judged, and can be taken from here."));
      return;
    }
    redraw(place, this.chooser(), this.taking(this.shown), this.previewed(this.shown), this.compared());
  }

  named(one) {
    return `Result ${one.number}, ${whenever(one.when)}: ${length(one.cloth_mm, this.unit)}, ${percent(one.efficiency)} used`;
  }

  select(id, label, value, onchange) {
    const select = make(
      "select",
      { id },
      this.all.map((one) => make("option", { value: String(one.number) }, this.named(one))),
    );
    select.value = String(value);
    select.addEventListener("change", () => {
      onchange(Number(select.value)).catch((refused) => {
        select.value = String(value);
        notice("results", refused.message);
      });
    });
    return make("div", { class: "field" }, make("label", { for: id }, label), select);
  }

  chooser() {
    return this.select("result", "Which result", this.chosen, (number) => this.choose(number));
  }

  taking(result) {
    const stale = result.revision !== this.keeper.job.revision;
    return make(
      "section",
      { class: "card taking", "aria-labelledby": "take-head" },
      make("h3", { id: "take-head" }, `Take the files of result ${result.number}`),
      stale ? make("p", { class: "stale" }, "The order was changed after this result was made. Its files are those of the order as it was then; job.toml in the zip says which.") : null,
      this.figures(result),
      make("h4", { id: "before" }, "Before you cut"),
      make("ul", { class: "cautions", "aria-labelledby": "before" }, result.cautions.map((text) => make("li", {}, text))),
      make("p", {}, make("a", { class: "button main", id: "take", href: `${this.path(result.number)}/files.zip`, download: "" }, "Take everything as one zip")),
      make("p", { class: "help" }, "In it: the lays as DXF and SVG, the preview, the summary, and the order itself as job.toml. Every cut file was read back and found right before it got its name."),
      result.findings.length ? make("div", {}, make("h4", {}, "What was found while making them"), faultLines(result.findings)) : null,
    );
  }

  rows(result) {
    return [
      ["Caps", result.caps],
      ["Panels", result.panels],
      ["Cloth", length(result.cloth_mm, this.unit)],
      ["Of it used", percent(result.efficiency)],
      ["Time to cut", clock(result.time_s)],
      ["Lays", result.lays.length],
      ["Searched for", clock(result.of_seconds)],
    ].filter(([name, value]) => value || name !== "Panels");
  }

  figures(result) {
    return make("dl", { class: "figures" }, this.rows(result).map(([name, value]) => make("div", {}, make("dt", {}, name), make("dd", {}, String(value)))));
  }

  previewed(result) {
    const frame = make("iframe", { title: `Preview of result ${result.number}`, class: "preview", sandbox: "allow-scripts", loading: "lazy" });
    const fold = make("details", { class: "card", id: "preview-fold" }, make("summary", {}, "Its preview: every line as it was read back"), frame);
    fold.addEventListener("toggle", () => {
      if (fold.open && !frame.src) frame.src = `${this.path(result.number)}/preview`;
    });
    if (byId("preview-fold")?.open) fold.open = true;
    return fold;
  }

  compared() {
    if (this.all.length < 2) return null;
    const sides = this.pair.map((number) => this.whole.get(number));
    if (sides.some((side) => !side)) return null;
    const change = (k) => async (number) => {
      await this.fetch(number);
      this.pair[k] = number;
      this.tell();
    };
    const [one, other] = sides;
    const table = make(
      "table",
      {},
      make("caption", {}, "The figures of both"),
      make("thead", {}, make("tr", {}, make("th", { scope: "col" }, "Figure"), ...sides.map((side) => make("th", { scope: "col", class: "n" }, `Result ${side.number}`)), make("th", { scope: "col", class: "n" }, "Difference"))),
      make(
        "tbody",
        {},
        this.differences(one, other).map(([name, a, b, difference]) =>
          make("tr", {}, make("th", { scope: "row" }, name), make("td", { class: "n" }, a), make("td", { class: "n" }, b), make("td", { class: "n" }, difference)),
        ),
      ),
    );
    // to one scale, so that the shorter one looks shorter
    const longest = Math.max(...sides.flatMap((side) => side.lays.map((lay) => lay.length_mm)));
    const drawn = (lay) => {
      const { svg } = new LayView(lay, {});
      svg.style.width = `${(100 * lay.length_mm) / longest}%`;
      return svg;
    };
    const drawings = sides.map((side, k) =>
      make(
        "div",
        {},
        this.select(`compare-${k}`, k ? "with" : "Compare", side.number, change(k)),
        side.lays.map((lay) => make("figure", {}, drawn(lay), make("figcaption", {}, `${lay.name}, ${length(lay.length_mm, this.unit)}`))),
      ),
    );
    const fold = make("details", { class: "card", id: "compare-fold" }, make("summary", {}, "Two results side by side"), table, make("div", { class: "pair" }, drawings));
    if (byId("compare-fold")?.open) fold.open = true;
    return fold;
  }

  differences(one, other) {
    const sign = (value, words) => (Math.abs(value) < 1e-9 ? "none" : `${value > 0 ? "+" : "−"}${words(Math.abs(value))}`);
    const row = (name, key, words) => [name, words(one[key]), words(other[key]), sign(other[key] - one[key], words)];
    return [
      row("Cloth", "cloth_mm", (value) => length(value, this.unit)),
      row("Of it used", "efficiency", percent),
      row("Time to cut", "time_s", clock),
      row("Caps", "caps", (value) => counted(value, "cap")),
    ];
  }
}
