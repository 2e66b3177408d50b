// The order as the text of its job file.

import { make } from "./build.js";

export class Text {
  constructor(keeper, root) {
    this.keeper = keeper;
    this.area = make("textarea", { id: "toml", class: "toml", rows: "30", spellcheck: "false", "aria-describedby": "toml-help" });
    this.area.addEventListener("input", () => keeper.write(this.area.value));
    this.area.addEventListener("change", () => keeper.soon.now());
    root.append(
      make("label", { for: "toml" }, "The job file, as `cutfiles make` reads it (TOML)"),
      make("p", { class: "help", id: "toml-help" }, "Fields and text are the same order: what you change in one stands in the other. Lines that begin with # are notes of your own, and are kept."),
      this.area,
    );
  }

  show(keeper) {
    if (keeper.text !== null || keeper.sending || this.area.value === keeper.job.toml) return;
    const { selectionStart, selectionEnd } = this.area;
    this.area.value = keeper.job.toml;
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
