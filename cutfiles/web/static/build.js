// Elements made in words: make("p", {class: "help"}, "text") and drawn("path", {d: "…"}).

const DRAWING = "http://www.w3.org/2000/svg";

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value") element.value = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined));
  return element;
}

export function make(tag, attributes, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

export function drawn(tag, attributes, ...children) {
  return fill(document.createElementNS(DRAWING, tag), attributes, children);
}

export function byId(id) {
  return document.getElementById(id);
}

// Puts children in place of all that an element held. Focus, and what is selected there, goes to what has the
// same id, so that a redrawn part throws nobody out who writes in it.
export function redraw(element, ...children) {
  const held = element.contains(document.activeElement) ? document.activeElement : null;
  const { id, value, selectionStart, selectionEnd } = held ?? {};
  element.replaceChildren(...children.flat(Infinity).filter((child) => child !== null && child !== undefined));
  const heir = id ? byId(id) : null;
  heir?.focus({ preventScroll: true });
  if (heir && typeof selectionStart === "number") {
    heir.value = value;
    heir.setSelectionRange(selectionStart, selectionEnd);
  }
}

export function button(words, onclick, more) {
  return make("button", { type: "button", ...more, onclick }, words);
}

// Calls a function once the asking has paused for so long.
export function after(milliseconds, work) {
  let timer = null;
  const later = () => {
    clearTimeout(timer);
    timer = setTimeout(() => {
      timer = null;
      work();
    }, milliseconds);
  };
  later.now = () => {
    if (timer === null) return;
    clearTimeout(timer);
    timer = null;
    work();
  };
  return later;
}
