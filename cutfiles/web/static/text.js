// The order as the text of its job file.

import { make } from "./build.js";

// A field of text has plain ends of lines; the file keeps those that it had.
function shownOf(toml) {
  return toml.replaceAll("\r\n", "\n");
}

export class Text {
  constructor(keeper, root) {
    this.area = make("textarea", { id: "toml", class: "toml", rows: "30", spellcheck: "false", "aria-describedby": "toml-help" });
    this.area.addEventListener("input", () => {
      const text = this.area.value;
      keeper.write(keeper.job.toml.includes("\r\n") ? text.replaceAll("\n", "\r\n") : text);
    });
    this.area.addEventListener("change", () => keeper.soon.now());
    root.append(
      make("label", { for: "toml" }, "The job file, as `cutfiles make` reads it (TOML)"),
      make("p", { class: "help", id: "toml-help" }, "Fields and text are the same order: what you change in one stands in the other. Lines that begin with # are notes of your own, and are kept."),
      this.area,
    );
  }

  show(keeper) {
    const text = shownOf(keeper.job.toml);
    if (keeper.text !== null || keeper.isSending || this.area.value === text) return;
    const { selectionStart, selectionEnd } = this.area;
    this.area.value = text;
    if (this.area === document.activeElement) this.area.setSelectionRange(selectionStart, selectionEnd);
  }

  // Line numbers count from 1.
  goTo(line) {
    const before = this.area.value.split("\n").slice(0, line - 1);
    const start = before.join("\n").length + (before.length ? 1 : 0);
    const end = this.area.value.indexOf("\n", start);
    this.area.focus();
    this.area.setSelectionRange(start, end < 0 ? this.area.value.length : end);
  }
}
