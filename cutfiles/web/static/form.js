// The order as fields, made from what the program says of its job files (`/api/form`). What is asked first,
// and what stands under "more", is settled here; which keys there are is not.

import { button, make, redraw } from "./build.js";
import { unitChanges } from "./change_unit.js";
import { controls, idOf, upload } from "./fields.js";
import { placeOf, rowsOf, valueAt } from "./keeper.js";
import { say } from "./say.js";
import { worded } from "./key_words.js";
import { counted, length, spoken, unitOf } from "./words.js";

const FIRST = {
  job: ["title", "length_unit"],
  cloth: ["name", "width", "selvedge", "length", "fibre", "shrinkage_percent", "one_way"],
  caps: ["style", "size", "head_girth", "wearers", "women", "quantity", "edge", "cloth"],
  panels: ["file", "quantity", "grain_deg", "unit", "on_fold", "cloth"],
  machine: ["kind", "kerf", "bed"],
  costs: ["currency", "elastic", "thread", "machine_hour", "hands_hour", "minutes_a_cap"],
  pinned: ["piece", "at", "turn_deg"],
};

const WHAT = {
  job: "the order",
  cloth: "this cloth",
  caps: "these caps",
  panels: "this panel",
  pinned: "this pin",
  machine: "the machine",
  costs: "prices",
};

const SIZED = {
  size: { words: "a size of the chart", keys: ["size", "quantity"] },
  head_girth: { words: "a head that was measured", keys: ["head_girth", "quantity"] },
  wearers: { words: "a head count of adults", keys: ["wearers", "women"] },
};
const BY_SIZING = ["size", "head_girth", "wearers", "women", "quantity"];

export class Form {
  constructor(keeper, schema, root) {
    this.keeper = keeper;
    this.root = root;
    this.measures = schema.measures;
    this.sizes = new Map(schema.sizes.map((size) => [size.name, size]));
    this.usual = schema.usual;
    this.schema = keysByTable(schema.keys);
    this.names = [];
    this.leaves = [];
    this.sized = new Map();
    this.signature = "";
    root.addEventListener("submit", (event) => event.preventDefault());
  }

  // The names of pieces by line, which are known once these are drafted.
  takeNames(lines) {
    const names = [];
    for (const { line, pieces } of lines) names[line - 1] = pieces.map((piece) => piece.name);
    if (JSON.stringify(names) === JSON.stringify(this.names)) return;
    this.names = names;
    this.show(this.keeper.job);
  }

  // What decides which controls there are: lists by their lengths, styles and kinds.
  signed(job) {
    const lengths = (value) =>
      Array.isArray(value)
        ? value.map(lengths)
        : value && typeof value === "object"
          ? Object.fromEntries(Object.entries(value).map(([name, sub]) => [name, lengths(sub)]).filter(([, sub]) => sub))
          : null;
    const tables = job.tables ?? {};
    const caps = rowsOf(job, "caps").map((line, k) => [line.style, this.sizing(line, k)]);
    const lists = ["cloth", "caps", "panels", "pinned"].map((name) => lengths(rowsOf(job, name)));
    const files = rowsOf(job, "panels").map((panel) => panel.file);
    return JSON.stringify([lists, caps, lengths(tables.machine), tables.machine?.kind, files, this.names]);
  }

  async changeUnit(unit) {
    const changes = unitChanges(this.keeper.job.tables, this.schema, this.measures);
    await this.keeper.now({ path: ["length_unit"], value: unit }, ...changes);
    if (changes.length) say("Lengths that were there keep the unit that they had.");
  }

  sizing(line, k) {
    const given = Object.keys(SIZED).filter((name) => line[name] !== undefined);
    // while a change is on its way, what was chosen holds, and not what stands in the file
    if (given.length === 1 && this.keeper.state === "kept") this.sized.set(k, given[0]);
    return this.sized.get(k) ?? given[0] ?? "size";
  }

  show(job) {
    if (!isReadable(job)) return;
    const signature = this.signed(job);
    if (signature !== this.signature) {
      this.signature = signature;
      this.build(job);
    }
    const findings = sorted(job.findings, this.leaves);
    for (const leaf of this.leaves) {
      leaf.show(valueAt(job.tables, leaf.path), job, findings.get(leaf));
    }
    for (const part of this.root.querySelectorAll("details")) {
      if (part.querySelector(".finding.error")) part.open = true;
    }
    this.heads.forEach((head) => head(job));
  }

  build(job) {
    this.leaves = [];
    this.heads = [];
    const open = new Set([...this.root.querySelectorAll("details[open]")].map((part) => part.id));
    const parts = [
      this.card("job", [], "What it is called", this.schema.job),
      ...this.lines("cloth", "Cloth"),
      ...this.lines("caps", "Caps"),
      ...this.lines("panels", "Panel of your own"),
      this.panelAdder(),
      this.card("machine", ["machine"], "What cuts it", this.machineKeys(job.tables.machine?.kind)),
      this.folded("pinned", "Pinned pieces", this.lines("pinned", "Pinned piece")),
      this.folded("costs", "Prices, for an estimate", [this.card("costs", ["costs"], null, this.schema.costs)]),
    ];
    redraw(this.root, parts);
    for (const id of open) {
      const part = document.getElementById(id);
      if (part) part.open = true;
    }
  }

  machineKeys(kind) {
    const usual = this.usual[kind] ?? {};
    const told = (key, above) => ({
      ...key,
      default: usual[above + key.name] ?? key.default,
      keys: key.keys?.map((sub) => told(sub, `${key.name}.`)),
    });
    const given = (key) => valueAt(this.keeper.job.tables, ["machine", key.name]) !== undefined;
    return this.schema.machine
      .filter((key) => !key.only_for || !kind || key.only_for.includes(kind) || given(key))
      .map((key) => told(key, ""));
  }

  // All lines of one list, and the button for another where it takes no more than that.
  lines(name, noun) {
    const cards = rowsOf(this.keeper.job, name).map((row, k) => this.lineCard(name, noun, k, this.schema[name]));
    if (name === "panels" || name === "pinned") return cards;
    return [
      ...cards,
      button(name === "caps" ? "Add more caps" : `Add another ${noun.toLowerCase()}`, () => this.add(name), {
        class: "quiet",
        id: `add-${name}`,
      }),
    ];
  }

  async add(name) {
    const rows = rowsOf(this.keeper.job, name);
    const cloths = clothNames(this.keeper.job);
    let number = rows.length + 1;
    while (cloths.includes(`cloth ${number}`)) number += 1;
    const fresh = {
      cloth: { name: `cloth ${number}`, width: this.likeWidth(), fibre: "cotton" },
      caps: { style: rows.at(-1)?.style ?? "tie-back", size: "M", quantity: 1 },
    }[name];
    if (name === "caps" && cloths.length > 1) [fresh.cloth] = cloths;
    await this.keeper.now({ path: [name], append: fresh });
    if (rowsOf(this.keeper.job, name).length <= rows.length) return; // refused, or not answered, which was said
    document.getElementById(idOf([name, rows.length, FIRST[name][0]]))?.focus();
    say(`${placeOf([name, rows.length])} was added.`);
  }

  likeWidth() {
    return this.keeper.job.tables.length_unit === "in" ? 44 : "112 cm";
  }

  panelAdder() {
    const faults = make("div", { class: "faults" });
    const picker = make("input", { type: "file", id: "add-panel", accept: ".svg,.dxf" });
    picker.addEventListener("change", async () => {
      const file = await upload(this.keeper, picker, faults);
      if (!file) return;
      const at = rowsOf(this.keeper.job, "panels").length;
      await this.keeper.now({ path: ["panels"], append: { file, quantity: 1 } });
      document.getElementById(idOf(["panels", at, "quantity"]))?.focus();
    });
    return make(
      "div",
      { class: "upload" },
      make("label", { for: "add-panel" }, "Add a panel of your own: its drawing (SVG or DXF)"),
      picker,
      faults,
    );
  }

  lineCard(name, noun, k, keys) {
    const head = make("h3", { id: `head-${name}-${k}`, tabindex: "-1" });
    this.heads.push((job) => {
      head.textContent = titled(name, noun, k, rowsOf(job, name)[k] ?? {});
    });
    const path = [name, k];
    const inner = this.grids(name, path, name === "caps" ? this.capKeys(k) : keys, WHAT[name]);
    const out = button(
      name === "pinned" ? "Unpin it" : `Take out ${noun.toLowerCase()} ${k + 1}`,
      async () => {
        const before = rowsOf(this.keeper.job, name).length;
        await this.keeper.now({ path, remove: true });
        const rest = rowsOf(this.keeper.job, name).length;
        if (rest >= before) return;
        const next = document.getElementById(rest ? `head-${name}-${Math.min(k, rest - 1)}` : `add-${name}`);
        (next ?? document.getElementById("order-head")).focus();
        say(`${noun} ${k + 1} was taken out. Undo brings it back.`);
      },
      { class: "quiet" },
    );
    const sizing = name === "caps" ? this.sizingField(k) : null;
    return make("section", { class: "card", "aria-labelledby": head.id }, head, sizing, inner, out);
  }

  card(name, path, title, keys) {
    const head = title ? make("h3", { id: `head-${name}` }, title) : null;
    return make(
      "section",
      { class: "card", "aria-labelledby": head?.id, "aria-label": head ? null : "Prices" },
      head,
      this.grids(name, path, keys ?? [], WHAT[name]),
    );
  }

  folded(name, title, children) {
    const summary = make("summary", {}, title);
    this.heads.push((job) => {
      const rows = job.tables[name];
      const count = Array.isArray(rows) ? rows.length : Object.keys(rows ?? {}).length;
      summary.textContent = count ? `${title} (${count})` : title;
    });
    const none = children.length
      ? null
      : make("p", { class: "help" }, "None. Pieces are pinned on the lay, once there is one.");
    return make("details", { class: "card", id: `fold-${name}` }, summary, none, children);
  }

  capKeys(k) {
    const line = rowsOf(this.keeper.job, "caps")[k] ?? {};
    const wanted = SIZED[this.sizing(line, k)].keys;
    return this.schema.caps.filter(
      (key) => !BY_SIZING.includes(key.name) || wanted.includes(key.name) || line[key.name] !== undefined,
    );
  }

  sizingField(k) {
    const id = `sizing-${k}`;
    const line = rowsOf(this.keeper.job, "caps")[k] ?? {};
    const select = make(
      "select",
      { id },
      Object.entries(SIZED).map(([name, { words }]) => make("option", { value: name }, words)),
    );
    select.value = this.sizing(line, k);
    select.addEventListener("change", async () => {
      const keep = SIZED[select.value].keys;
      this.sized.set(k, select.value);
      const now = rowsOf(this.keeper.job, "caps")[k] ?? {};
      const gone = BY_SIZING.filter((name) => now[name] !== undefined && !keep.includes(name));
      const changes = gone.map((name) => ({ path: ["caps", k, name], remove: true }));
      if (keep.includes("quantity") && now.quantity === undefined) {
        changes.push({ path: ["caps", k, "quantity"], value: 1 });
      }
      await this.keeper.now(...changes);
      this.show(this.keeper.job);
    });
    return make("div", { class: "field" }, make("label", { for: id }, "Made for"), select);
  }

  // The keys that are asked first, and the others under "more".
  grids(name, path, keys, what) {
    const first = FIRST[name] ?? [];
    const ordered = first.map((key) => keys.find((one) => one.name === key)).filter(Boolean);
    const rest = keys.filter((key) => !first.includes(key.name));
    const draw = (some) =>
      make(
        "div",
        { class: "grid" },
        some.map((key) => {
          const { root, leaves } = controls(this.seen(key, path), [...path, key.name], this.keeper, this.context(path));
          this.leaves.push(...leaves);
          return root;
        }),
      );
    if (!rest.length) return [draw(ordered)];
    const summary = make("summary", {}, `More about ${what}`);
    this.heads.push((job) => {
      const table = valueAt(job.tables, path) ?? {};
      const given = rest.filter((key) => table[key.name] !== undefined).length;
      summary.textContent = given ? `More about ${what} (${counted(given, "thing")} said)` : `More about ${what}`;
    });
    return [draw(ordered), make("details", { id: `more-${path.join("-") || "job"}` }, summary, draw(rest))];
  }

  // A cloth is chosen among those of the order.
  seen(key, path) {
    if (key.name === "length_unit") return { ...key, choose: (unit) => this.changeUnit(unit || "mm") };
    if (key.name === "size" && path[0] === "caps") return { ...key, told: (name, job) => this.sizeWords(name, job) };
    if (key.name !== "cloth" || path.length < 2) return key;
    const none = (job) => (clothNames(job).length > 1 ? "not given" : "the only one");
    return { ...key, kind: "choice", default: null, needed: false, choicesOf: clothNames, none };
  }

  sizeWords(name, job) {
    const size = this.sizes.get(name);
    const unit = unitOf(job);
    return size ? `${name}: heads of ${length(size.from_mm, unit)} to ${length(size.to_mm, unit)}` : name;
  }

  context(path) {
    const style = valueAt(this.keeper.job.tables, [...path, "style"]);
    return {
      // the keys of a table whose keys are names: of measures, or of the style's pieces
      entries: (key) => {
        if (key.name === "measures") return (this.measures[style] ?? []).map(measureKey);
        const given = Object.keys(valueAt(this.keeper.job.tables, [...path, key.name]) ?? {});
        const names = [...new Set([...(this.names[path[1]] ?? []), ...given])];
        return names.map((name) => ({ ...key.of, ...this.seen({ ...key.of, name: key.name === "from" ? "cloth" : name }, [...path, ""]), name, label: undefined, help: "" }));
      },
      fresh: (key) => FRESH[key.name] ?? {},
    };
  }
}

function clothNames(job) {
  const names = rowsOf(job, "cloth").map((cloth) => cloth.name);
  return [...new Set(names.filter((name) => typeof name === "string"))];
}

// A measure with its limits.
function measureKey(row) {
  const unit = row.unit === "count" || row.unit === "times" ? "" : ` ${row.unit === "percent" ? "%" : row.unit}`;
  return { ...row, label: spoken(row.name.replace("_percent", "")), help: `${spoken(row.help)}; ${row.low} to ${row.high}${unit}.` };
}

// The program's list of keys, by table and in this page's words.
function keysByTable(keys) {
  const plain = keys.filter((key) => !isTable(key)).map((key) => worded("job", key));
  const tables = keys.filter(isTable).map((key) => [key.name, key.keys.map((sub) => worded(key.name, sub))]);
  return { job: plain, ...Object.fromEntries(tables) };
}

function isTable(key) {
  return key.kind === "table" || key.kind === "tables";
}

// A text that is no TOML has no tables to show as fields.
export function isReadable(job) {
  return Object.keys(job.tables ?? {}).length > 0;
}

const FRESH = {
  flaws: { at: ["100 mm", "100 mm"], size: ["20 mm", "20 mm"] },
  settings: { plies: 1, note: "power and speed" },
};

// Findings by the leaf that they stand beside: the one with the longest path that leads there.
function sorted(findings, leaves) {
  const found = new Map();
  for (const finding of findings) {
    const path = finding.path ?? [];
    let best = null;
    for (const leaf of leaves) {
      const leads = leaf.path.length <= path.length && leaf.path.every((step, k) => step === path[k]);
      if (leads && (!best || leaf.path.length > best.path.length)) best = leaf;
    }
    if (best) found.set(best, [...(found.get(best) ?? []), finding]);
  }
  return found;
}

function titled(name, noun, k, row) {
  const said = {
    cloth: row.name,
    caps: [row.quantity ?? row.wearers, row.style, row.size ?? row.head_girth].filter((word) => word !== undefined).join(" "),
    panels: row.file,
    pinned: row.piece,
  }[name];
  return said ? `${noun} ${k + 1}: ${said}` : `${noun} ${k + 1}`;
}
