// What is said aloud to those who do not see the page, and notices that stay until they are read.

import { button, byId, make } from "./build.js";

// Politely: waits until the reader has finished. The same words twice are said twice.
export function say(words) {
  const place = byId("said");
  place.textContent = "";
  requestAnimationFrame(() => {
    place.textContent = words;
  });
}

// At once: a refusal.
export function alarm(words) {
  const place = byId("alarm");
  place.textContent = "";
  requestAnimationFrame(() => {
    place.textContent = words;
  });
}

// A notice at the top of the page, one for each name; actions are [words, function] pairs.
export function notice(name, words, actions = []) {
  dismiss(name);
  const box = make(
    "div",
    { class: "notice", id: `notice-${name}` },
    make("p", {}, words),
    make(
      "p",
      { class: "row" },
      actions.map(([text, work]) =>
        button(text, () => {
          read(name);
          work();
        }),
      ),
      actions.length ? null : button("I have read it", () => read(name)),
    ),
  );
  byId("notices").append(box);
  alarm(words);
}

// Its button is gone by then: the keys go on from the work below.
function read(name) {
  dismiss(name);
  byId("work").focus({ preventScroll: true });
}

export function dismiss(name) {
  byId(`notice-${name}`)?.remove();
}
