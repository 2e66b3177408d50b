// All that is to be mended in an order, each with a way to its field.

import { button, make, redraw } from "./build.js";
import { faultLines, idOf } from "./fields.js";
import { placeOf } from "./keeper.js";
import { counted } from "./words.js";

// A text that cannot be read says in which line.
function lineButton(finding, toLine) {
  const found = /\(at line (\d+), column (\d+)\)/.exec(finding.text);
  return found ? button(`Go to line ${found[1]}`, () => toLine(Number(found[1])), { class: "quiet small" }) : null;
}

// All that is to be mended, each with a way to its field.
export function showMend(root, job, toField, toLine) {
  const errors = job.findings.filter((finding) => finding.severity === "error");
  const others = job.findings.filter((finding) => finding.severity !== "error");
  const words = JSON.stringify(job.findings);
  if (root.dataset.words === words) return;
  root.dataset.words = words;
  const list = (findings) =>
    make(
      "ul",
      {},
      findings.map((finding) =>
        make(
          "li",
          {},
          finding.path?.length
            ? button(placeOf(finding.path), () => toField(finding.path), { class: "place", "aria-label": `Go to ${placeOf(finding.path)}` })
            : null,
          faultLines([finding]),
          lineButton(finding, toLine),
        ),
      ),
    );
  const parts = [];
  if (errors.length) {
    parts.push(make("details", { open: true, id: "mend-list" }, make("summary", {}, `${counted(errors.length, "thing")} to mend before it can be nested`), list(errors)));
  } else {
    parts.push(make("p", { class: "sound" }, "Nothing to mend: it can be nested."));
  }
  if (others.length) {
    parts.push(make("details", { id: "care-list" }, make("summary", {}, `${counted(others.length, "thing")} to know`), list(others)));
  }
  redraw(root, parts);
}

// Brings a field into view and gives it focus; the nearest one where it has none of its own.
export function goTo(path) {
  for (let depth = path.length; depth > 0; depth -= 1) {
    const field = document.getElementById(idOf(path.slice(0, depth)));
    if (field) {
      for (let fold = field.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
      field.focus();
      field.scrollIntoView({ block: "center" });
      return;
    }
  }
  const head = document.getElementById(`head-${path.slice(0, 2).join("-")}`);
  (head ?? document.getElementById("order-head")).focus();
}
