// The list of orders, and the ways to a new one.

import { ask } from "./ask.js";
import { button, byId, make } from "./build.js";
import { whenever } from "./words.js";

const STATES = {
  waiting: "waits for its turn to nest",
  nesting: "is being nested",
  writing: "its cut files are being written",
  done: "has cut files",
  stopped: "has cut files",
  failed: "the last nest failed",
};

async function begin(toml) {
  byId("trouble").textContent = "";
  try {
    const { id } = await ask("/api/jobs", toml === undefined ? {} : { toml });
    location.assign(`/jobs/${encodeURIComponent(id)}`);
  } catch (refused) {
    byId("trouble").textContent = refused.message;
  }
}

// Asked twice: there is no way back.
function throwAway(id, title) {
  const place = make("span", { class: "row" });
  const first = button("Throw it away", () => place.replaceChildren(really, keep), { class: "quiet small", "aria-label": `Throw ${title} away` });
  const keep = button("Keep it", () => {
    place.replaceChildren(first);
    first.focus();
  }, { class: "small" });
  const really = button("Yes, with all its results", async () => {
    byId("trouble").textContent = "";
    try {
      await ask(`/api/jobs/${encodeURIComponent(id)}`, undefined, "DELETE");
    } catch (refused) {
      byId("trouble").textContent = refused.message;
    }
    await show();
    byId("kept-orders").focus();
  }, { class: "small" });
  first.addEventListener("click", () => keep.focus());
  place.append(first);
  return place;
}

async function show() {
  const list = byId("orders");
  let orders;
  try {
    orders = await ask("/api/jobs");
  } catch (refused) {
    list.replaceChildren(make("li", { class: "fault" }, refused.message));
    return;
  }
  const rows = orders.map(({ id, title, changed, state }) =>
    make(
      "li",
      {},
      make("a", { href: `/jobs/${encodeURIComponent(id)}` }, title || "An order without a title"),
      make("span", { class: "soft" }, `${STATES[state] ? STATES[state] + ", " : ""}changed ${whenever(changed)}`),
      throwAway(id, title),
    ),
  );
  list.replaceChildren(...(rows.length ? rows : [make("li", { class: "soft" }, "None yet.")]));
  list.removeAttribute("aria-busy");
}

byId("blank").addEventListener("click", () => begin());
byId("from-file").addEventListener("change", async (event) => {
  const [file] = event.target.files;
  if (!file) return;
  event.target.value = ""; // so that the same file can be given again, once it is mended
  if (file.size > 1_000_000) {
    byId("trouble").textContent = `${file.name} has ${(file.size / 1e6).toFixed(1)} MB; a job file has 1 MB at the most.`;
    return;
  }
  await begin(await file.text());
});
addEventListener("pageshow", show);
