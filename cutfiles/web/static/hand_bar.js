// What stands below a lay: where the chosen piece is, whether it may lie there, and all that can be done with it,
// for those who cannot drag or have no keys.

import { button, make, redraw } from "./build.js";
import { calledOf } from "./lay_view.js";
import { fine } from "./words.js";

const WAYS = { Left: [-1, 0], Right: [1, 0], Up: [0, 1], Down: [0, -1] };

export function drawBar(hand, refusal) {
  const offer = (words, name, work, more) =>
    button(words, work, { id: `hand-${name}-${hand.view.lay.name}`, ...more });
  if (!hand.piece) {
    redraw(
      hand.bar,
      refusal ? verdictLine(false, refusal) : null,
      make("p", {}, "To move a piece, choose it: click it, tap it, or go to it with Tab and the arrow keys."),
      make("p", { class: "row" }, ofAll(hand, offer)),
    );
    return;
  }
  redraw(
    hand.bar,
    placeLine(hand),
    refusal ? verdictLine(false, refusal) : null,
    hand.held ? whileHeld(hand, offer) : whileItLies(hand, offer),
  );
}

function placeLine(hand) {
  const { piece, held, unit } = hand;
  const { x_mm, y_mm, turn_deg } = held ? hand.place() : piece;
  const where = `Its origin: ${fine(x_mm, unit)} along, ${fine(y_mm, unit)} across, turned ${turn_deg.toFixed(0)}°.`;
  return make(
    "p",
    {},
    make("b", {}, calledOf(piece)),
    `${piece.pinned ? " (pinned)" : ""}, ${piece.cap}. `,
    make("span", { class: "soft" }, where),
  );
}

// Said with a sign and a word, not by colour alone.
function verdictLine(fits, words) {
  const sign = make("b", { "aria-hidden": "true" }, fits ? "✓ " : "✕ ");
  return make("p", { class: `verdict ${fits ? "yes" : "no"}` }, sign, words);
}

function whileHeld(hand, offer) {
  const { verdict } = hand;
  const refused = Boolean(verdict) && !verdict.fits;
  const ways = Object.entries(WAYS).map(([words, way]) =>
    offer(words, words.toLowerCase(), () => hand.push(way), { class: "quiet", "aria-label": `${words} by 10 mm` }),
  );
  const down =
    refused && verdict.onlyLoose
      ? offer("Pin it all the same, and nest the others round it", "over", () => hand.pinHere())
      : offer("Put it down and pin it", "down", () => hand.putDown(), { class: "main", disabled: refused });
  return [
    verdict ? verdictLine(verdict.fits, hand.told(verdict)) : make("p", { class: "verdict" }, "Looking whether it fits…"),
    make(
      "p",
      { class: "row" },
      ways,
      offer("Turn it", "turn", () => hand.turn(), { class: "quiet" }),
      down,
      offer("Put it back", "back", () => hand.back("It is back where it lay.")),
    ),
  ];
}

function whileItLies(hand, offer) {
  const pin = hand.piece.pinned
    ? offer("Unpin it", "unpin", () => hand.unpin())
    : offer("Pin it where it lies", "pin", () => hand.pinHere());
  return make(
    "p",
    { class: "row" },
    offer("Take it up", "take", () => hand.take()),
    offer("Turn it", "turn", () => hand.turn(), { class: "quiet" }),
    pin,
    ofAll(hand, offer),
  );
}

function ofAll(hand, offer) {
  const pinned = [...hand.pieces.values()].map((piece) => piece.pinned);
  return [
    pinned.every(Boolean) ? null : offer("Pin every piece where it lies", "pin-all", () => hand.pinAll(), { class: "quiet" }),
    pinned.some(Boolean) ? offer("Unpin all of them", "unpin-all", () => hand.unpinAll(), { class: "quiet" }) : null,
  ];
}
