// The pieces of a lay: pointed at, chosen, and told of.

import { asArea, asLength, asTime } from "./geometry.js";

/** Marks pieces in the drawing, fills the card beside it, and says aloud what is chosen. */
export class Pieces {
  constructor(section, lay, view) {
    this.lay = lay;
    this.view = view;
    this.card = section.querySelector(".card");
    this.said = section.querySelector(".said");
    this.list = section.querySelector(".pick");
    this.hint = this.card.firstElementChild;
    this.outlines = [...section.querySelectorAll(".stage .role-outline [data-p]")];
    this.card.tabIndex = -1;
    this.chosen = null;
    this.pointed = null;
    lay.pieces.forEach((piece, number) => this.list.append(new Option(this.nameOf(number), number)));
    this.list.addEventListener("change", () => {
      this.choose(this.list.value === "" ? null : Number(this.list.value));
    });
  }

  nameOf(number) {
    const piece = this.lay.pieces[number];
    return `${number + 1}: ${piece.name}, ${piece.cap}`;
  }

  /** The piece of an element of the drawing, if it is one's. */
  numberOf(element) {
    const path = element.closest?.("[data-p]");
    return path ? Number(path.dataset.p) : null;
  }

  point(number) {
    if (number === this.pointed) return;
    this.outlines[this.pointed]?.classList.remove("pointed");
    this.outlines[number]?.classList.add("pointed");
    this.pointed = number;
    this.fill(number ?? this.chosen);
  }

  choose(number) {
    this.outlines[this.chosen]?.classList.remove("chosen");
    for (const path of this.outlines) path.classList.remove("near");
    this.chosen = number;
    this.list.value = number ?? "";
    if (number !== null) {
      this.outlines[number].classList.add("chosen");
      for (const [other] of this.lay.pieces[number].near) this.outlines[other].classList.add("near");
      const box = this.outlines[number].getBBox();
      const high = this.lay.width_mm;
      this.view.show({
        x: box.x / 100, y: high - (box.y + box.height) / 100,
        width: box.width / 100, height: box.height / 100,
      });
    }
    this.fill(number);
    const rows = number === null ? [] : this.rows(number).slice(0, 5);
    const told = rows.map(([word, value]) => `${word} ${value}`).join(", ");
    this.said.textContent = number === null ? "No piece chosen." : `${this.nameOf(number)}: ${told}.`;
  }

  /** The next or previous piece in the order of cutting. */
  step(by) {
    const count = this.lay.pieces.length;
    const from = this.chosen ?? (by > 0 ? -1 : count);
    this.choose((from + by + count) % count);
  }

  rows(number) {
    const piece = this.lay.pieces[number];
    const { lay } = this;
    const label = this.outlines[number].querySelector("title").textContent;
    return [
      ["label", label],
      ["size", piece.size || "as drawn"],
      ["grain", `${piece.grain_deg}° from along the cloth`],
      ["area", asArea(piece.area_mm2, lay)],
      ["notches", String(piece.notches)],
      ["cut", `number ${number + 1} of ${lay.pieces.length}, in ${asTime(piece.time_s)}`],
      ["layers", String(lay.plies)],
      ...(piece.frame ? [["frame of the bed", String(piece.frame)]] : []),
      ...(piece.pinned ? [["place", "pinned by the job"]] : []),
    ];
  }

  fill(number) {
    if (number === null) return this.card.replaceChildren(this.hint);
    const piece = this.lay.pieces[number];
    const title = told("h3", `${piece.name}, ${piece.cap}`);
    const facts = document.createElement("dl");
    for (const [word, value] of this.rows(number)) facts.append(told("dt", word), told("dd", value));
    const gaps = document.createElement("ul");
    gaps.className = "gaps";
    for (const [other, gap] of piece.near) {
      const row = document.createElement("li");
      const go = told("button", this.nameOf(other));
      go.type = "button";
      go.addEventListener("click", () => {
        this.choose(other);
        this.card.focus(); // the button is gone
      });
      row.append(told("span", `${asLength(gap, this.lay)} to `), go);
      gaps.append(row);
    }
    const none = told("p", "No other piece is near.");
    const words = told("h4", "Gaps between outlines as written");
    this.card.replaceChildren(title, facts, words, piece.near.length ? gaps : none);
  }
}

function told(name, text) {
  const element = document.createElement(name);
  element.textContent = text;
  return element;
}
