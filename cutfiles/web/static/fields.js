// One control for one key of the job file: its label, unit, help, and what is wrong with it beside it.
//
// A control of a leaf is {root, path, show(value, job, findings)}; it hands what was typed to the keeper as
// the job file holds it: numbers as numbers, "6 1/2 in" as text, nothing as no key.

import { ask } from "./ask.js";
import { button, make } from "./build.js";
import { valueAt } from "./keeper.js";
import { alarm, say } from "./say.js";
import { spoken, unitOf } from "./words.js";

const PLAIN_NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)$/;
const LENGTHS = ["length", "speed", "acceleration", "time"];
const NUMBERS = ["number", "count", "quantity"];

const UNITS = { count: "", times: "times" };

export function idOf(path) {
  return `f-${path.join("-").replace(/[^A-Za-z0-9_-]/g, "-")}`;
}

function numberOr(text) {
  return PLAIN_NUMBER.test(text) ? Number(text) : text;
}

function unitFor(key, job) {
  const known = unitOf(job);
  if (["length", "two lengths", "outline"].includes(key.kind)) return known;
  if (key.kind === "speed") return `${known} a second`;
  if (key.kind === "acceleration") return `${known} a second squared`;
  if (key.kind === "time") return "seconds";
  return UNITS[key.unit] ?? key.unit ?? "";
}

function usual(key) {
  if (key.default === null || key.default === undefined || typeof key.default === "object") return "";
  if (key.kind === "yes or no") return "";
  return String(key.default);
}

// The frame of a field: label, what is inside, help, and the place of its faults.
function framed(key, path, inside, { group = false, labelAfter = false } = {}) {
  const id = idOf(path);
  const unit = make("span", { class: "unit" });
  const words = key.label ?? spoken(key.name);
  const needed = key.needed ? make("span", { class: "soft" }, " (needed)") : null;
  const head = group
    ? make("legend", {}, words, needed, " ", unit)
    : make("label", { for: id }, words, needed, " ", unit);
  const help = make("p", { class: "help", id: `${id}-help` }, key.help ?? "");
  if (!key.help) help.hidden = true;
  const faults = make("div", { class: "faults", id: `${id}-faults` });
  const order = labelAfter
    ? [make("div", { class: "ticked" }, inside, head), help]
    : group
      ? [head, help, inside]
      : [head, inside, help];
  const root = make(group ? "fieldset" : "div", { class: "field", "data-key": key.name, "data-path": JSON.stringify(path) }, order, faults);
  return { root, unit, faults };
}

// A finding without the place that it names first, for where that place is seen already.
function plainly({ text, path }) {
  const bare = text.replace(/^job\.toml: /, "").replace("--anew searches again", "tick “Search anew” to search again");
  if (!path?.length) return bare;
  const words = bare.replace(/^(\[\[\w+\]\] \d+|\[\w+\])(: )?/, "").replace(/^[\w.-]+(?: \d+: [\w.]+| \d+)?: /, "");
  return words.charAt(0).toUpperCase() + words.slice(1);
}

export function faultLines(findings) {
  return findings.map((finding) =>
    make(
      "p",
      { class: `finding ${finding.severity}` },
      make("b", {}, { error: "Mend: ", warning: "Take care: ", note: "Note: " }[finding.severity] ?? ""),
      plainly(finding),
    ),
  );
}

function showFaults(frame, control, findings, id) {
  const mine = findings ?? [];
  const words = JSON.stringify(mine.map((finding) => finding.text));
  if (frame.faults.dataset.words !== words) {
    frame.faults.dataset.words = words;
    frame.faults.replaceChildren(...faultLines(mine));
    if (mine.some((finding) => finding.severity === "error") && control === document.activeElement) {
      say(plainly(mine[0]));
    }
  }
  control.setAttribute("aria-invalid", String(mine.some((finding) => finding.severity === "error")));
  control.setAttribute("aria-describedby", `${id}-help ${id}-faults`);
}

// What was typed stays as it was typed ("44." is 44 to the job file), unless another window or an undo changed it.
function showText(input, text) {
  if (input.value === text) return;
  if (input === document.activeElement && input.dataset.sent === text) return;
  input.value = text;
}

// What is on its way to the program is not written over by what was there before.
function unlessTyped(control, keeper) {
  const { show } = control;
  return {
    ...control,
    show(value, job, findings) {
      show(keeper.isPending(control.path) ? keeper.pendingAt(control.path) : value, job, findings);
    },
  };
}

function typed(key, path, keeper, { read, write, list }) {
  const id = idOf(path);
  const numeric = NUMBERS.includes(key.kind);
  const input = make("input", {
    id,
    type: "text",
    inputmode: numeric && key.kind !== "quantity" ? "decimal" : null,
    placeholder: usual(key) ? `usual: ${usual(key)}` : null,
    list: list ? `${id}-list` : null,
    spellcheck: "false",
  });
  const options = list
    ? make("datalist", { id: `${id}-list` }, list.map((value) => make("option", { value })))
    : null;
  const frame = framed(key, path, [input, options]);
  input.addEventListener("input", () => {
    const value = read(input.value);
    input.dataset.sent = write(value);
    keeper.put(path, value);
  });
  input.addEventListener("change", () => keeper.soon.now());
  return {
    root: frame.root,
    path,
    show(value, job, findings) {
      frame.unit.textContent = unitFor(key, job);
      showText(input, write(value));
      showFaults(frame, input, findings, id);
    },
  };
}

const plain = {
  read: (text) => (text.trim() === "" ? undefined : text),
  write: (value) => (value === undefined || value === null ? "" : String(value)),
};
const measured = {
  read: (text) => (text.trim() === "" ? undefined : numberOr(text.trim())),
  write: plain.write,
};
const named = {
  read: (text) => {
    const names = text.split(",").map((name) => name.trim()).filter(Boolean);
    return names.length ? names : undefined;
  },
  write: (value) => (Array.isArray(value) ? value.join(", ") : plain.write(value)),
};
const cornered = {
  read: (text) => {
    const lines = text.split("\n").map((line) => line.trim()).filter(Boolean);
    if (!lines.length) return undefined;
    if (lines.length === 1 && /[A-Za-z]/.test(lines[0])) return lines[0];
    return lines.map((line) => line.split(/[;,]/).map((part) => numberOr(part.trim())));
  },
  write: (value) =>
    Array.isArray(value)
      ? value.map((corner) => (Array.isArray(corner) ? corner.join(", ") : String(corner))).join("\n")
      : plain.write(value),
};

function chosen(key, path, keeper) {
  const id = idOf(path);
  const select = make("select", { id });
  const frame = framed(key, path, select);
  select.addEventListener("change", () => {
    if (key.choose) {
      key.choose(select.value);
      return;
    }
    keeper.put(path, select.value === "" ? undefined : select.value);
    keeper.soon.now();
  });
  return {
    root: frame.root,
    path,
    show(value, job, findings) {
      const none = key.none ? key.none(job) : usual(key) ? `usual: ${usual(key)}` : key.needed ? "choose" : "not given";
      const choices = key.choicesOf ? key.choicesOf(job) : (key.choices ?? []);
      const texts = value === undefined || choices.includes(value) ? choices : [...choices, String(value)];
      const words = JSON.stringify([none, texts, job.tables.length_unit]);
      if (select.dataset.words !== words) {
        select.dataset.words = words;
        select.replaceChildren(
          make("option", { value: "" }, none),
          ...texts.map((text) => make("option", { value: text }, key.told?.(text, job) ?? text)),
        );
      }
      select.value = value === undefined ? "" : String(value);
      showFaults(frame, select, findings, id);
    },
  };
}

function ticked(key, path, keeper) {
  const id = idOf(path);
  const box = make("input", { id, type: "checkbox" });
  const frame = framed(key, path, box, { labelAfter: true });
  box.addEventListener("change", () => {
    keeper.put(path, box.checked === Boolean(key.default) ? undefined : box.checked);
    keeper.soon.now();
  });
  return {
    root: frame.root,
    path,
    show(value, job, findings) {
      box.checked = value === undefined ? Boolean(key.default) : value === true;
      showFaults(frame, box, findings, id);
    },
  };
}

// Some of a few choices, each with its tick.
function several(key, path, keeper) {
  const id = idOf(path);
  const boxes = key.of.choices.map((choice) => make("input", { id: `${id}-${choice}`, type: "checkbox", value: choice }));
  const frame = framed(
    key,
    path,
    boxes.map((box) => make("div", { class: "ticked" }, box, make("label", { for: box.id }, box.value))),
    { group: true },
  );
  const put = () => {
    const values = boxes.filter((box) => box.checked).map((box) => box.value);
    keeper.put(path, values.length ? values : undefined);
    keeper.soon.now();
  };
  for (const box of boxes) box.addEventListener("change", put);
  return {
    root: frame.root,
    path,
    show(value, job, findings) {
      for (const box of boxes) box.checked = Array.isArray(value) && value.includes(box.value);
      showFaults(frame, boxes[0], findings, id);
    },
  };
}

// Two lengths, along and across, in one list.
function paired(key, path, keeper) {
  const id = idOf(path);
  const inputs = ["along", "across"].map((way) =>
    make("input", { id: way === "along" ? id : `${id}-across`, type: "text", spellcheck: "false" }),
  );
  const frame = framed(
    key,
    path,
    make(
      "div",
      { class: "row" },
      inputs.map((input, k) => make("label", { class: "sub" }, k ? "across" : "along", input)),
    ),
    { group: true },
  );
  const put = () => {
    const values = inputs.map((input) => measured.read(input.value));
    keeper.put(path, values.every((value) => value === undefined) ? undefined : values.map((value) => value ?? ""));
  };
  for (const input of inputs) {
    input.addEventListener("input", put);
    input.addEventListener("change", () => keeper.soon.now());
  }
  return {
    root: frame.root,
    path,
    show(value, job, findings) {
      frame.unit.textContent = unitFor(key, job);
      inputs.forEach((input, k) => {
        input.dataset.sent = input.value;
        const text = plain.write(Array.isArray(value) ? value[k] : undefined);
        if (input !== document.activeElement || document.activeElement.value === "") showText(input, text);
      });
      showFaults(frame, inputs[0], findings, id);
    },
  };
}

function areaOf(key, path, keeper) {
  const id = idOf(path);
  const area = make("textarea", { id, rows: "3", spellcheck: "false" });
  const picker = make("input", { id: `${id}-drawing`, type: "file", accept: ".svg,.dxf" });
  const frame = framed(key, path, [
    area,
    make("label", { class: "sub", for: picker.id }, "or a drawing of it (SVG or DXF)"),
    picker,
  ]);
  area.addEventListener("input", () => keeper.put(path, cornered.read(area.value)));
  area.addEventListener("change", () => keeper.soon.now());
  picker.addEventListener("change", async () => {
    const name = await upload(keeper, picker, frame.faults);
    if (name) await keeper.now({ path, value: name });
  });
  return {
    root: frame.root,
    path,
    show(value, job, findings) {
      if (area !== document.activeElement) showText(area, cornered.write(value));
      showFaults(frame, area, findings, id);
    },
  };
}

// Hands a drawing to the program and gives the name that the job file calls it by.
export async function upload(keeper, picker, place) {
  const [file] = picker.files;
  if (!file) return null;
  const form = new FormData();
  form.append("file", file, file.name);
  try {
    const answer = await ask(`${keeper.path}/files`, form);
    say(`${file.name} was read.`);
    return answer.name;
  } catch (refused) {
    place.dataset.words = "";
    place.replaceChildren(make("p", { class: "finding error" }, make("b", {}, "Mend: "), refused.message));
    alarm(refused.message);
    return null;
  } finally {
    picker.value = "";
  }
}

// The controls of a key: one for a plain value, several for a table.
export function controls(key, path, keeper, context) {
  const list = key.kind === "quantity" ? key.choices : null;
  const leaf = (control) => ({ root: control.root, leaves: [unlessTyped(control, keeper)] });
  if (key.kind === "list") return leaf(several(key, path, keeper));
  if (key.kind === "choice") return leaf(chosen(key, path, keeper));
  if (key.kind === "yes or no") return leaf(ticked(key, path, keeper));
  if (key.kind === "two lengths") return leaf(paired(key, path, keeper));
  if (key.kind === "outline") return leaf(areaOf(key, path, keeper));
  if (key.kind === "names") return leaf(typed(key, path, keeper, named));
  if (key.kind === "table") return tabled(key, path, keeper, context, key.keys ?? []);
  if (key.kind === "by name") return tabled(key, path, keeper, context, context.entries(key));
  if (key.kind === "tables") return listed(key, path, keeper, context);
  const how = LENGTHS.includes(key.kind) || NUMBERS.includes(key.kind) ? measured : plain;
  return leaf(typed(key, path, keeper, { ...how, list }));
}

function tabled(key, path, keeper, context, keys) {
  const inner = keys.map((sub) => controls(sub, [...path, sub.name], keeper, context));
  const frame = framed(key, path, make("div", { class: "grid" }, inner.map((one) => one.root)), { group: true });
  const self = {
    root: frame.root,
    path,
    show(value, job, findings) {
      showFaults(frame, frame.root, findings, idOf(path));
      frame.root.removeAttribute("aria-invalid");
    },
  };
  return { root: frame.root, leaves: [self, ...inner.flatMap((one) => one.leaves)] };
}

function listed(key, path, keeper, context) {
  const rows = valueAt(keeper.job.tables, path);
  const count = Array.isArray(rows) ? rows.length : 0;
  const leaves = [];
  const noun = key.noun ?? spoken(key.name).toLowerCase().replace(/s$/, "");
  const parts = Array.from({ length: count }, (_, k) => {
    const inner = (key.keys ?? []).map((sub) => controls(sub, [...path, k, sub.name], keeper, context));
    leaves.push(...inner.flatMap((one) => one.leaves));
    return make(
      "fieldset",
      { class: "line" },
      make("legend", {}, `${spoken(noun)} ${k + 1}`),
      make("div", { class: "grid" }, inner.map((one) => one.root)),
      button(`Take out ${noun} ${k + 1}`, () => keeper.now({ path: [...path, k], remove: true }), { class: "quiet" }),
    );
  });
  const adder = button(`Add a ${noun}`, () => keeper.now({ path, append: context.fresh(key) }), {
    class: "quiet",
    id: `${idOf(path)}-add`,
  });
  const frame = framed(key, path, [...parts, adder], { group: true });
  leaves.unshift({
    root: frame.root,
    path,
    show(value, job, findings) {
      showFaults(frame, frame.root, findings, idOf(path));
      frame.root.removeAttribute("aria-invalid");
    },
  });
  return { root: frame.root, leaves };
}
