// The page of one order: puts its parts together.

import { NoAnswer, ask } from "./ask.js";
import { byId } from "./build.js";
import { Form, isReadable } from "./form.js";
import { Keeper } from "./keeper.js";
import { Lays } from "./lays.js";
import { goTo, showMend } from "./mend.js";
import { Pieces } from "./pieces.js";
import { Results } from "./results.js";
import { Run } from "./run.js";
import { notice } from "./say.js";
import { Text } from "./text.js";

const STEPS = ["order", "pieces", "lay", "files"];
const KEPT = {
  kept: "Kept",
  waiting: "Not kept yet…",
  saving: "Keeping…",
  unsaved: "Not kept: the program does not answer",
  again: "Not kept: it is tried again",
  clash: "Not kept: another window changed it, too",
};

const NOT_YET = "What you wrote is not kept yet, and stays in view until it is.";

function showStep(focus) {
  const asked = location.hash.slice(1);
  const work = byId("work");
  const step = STEPS.includes(asked) ? asked : (work.dataset.step ?? "order");
  work.dataset.step = step;
  const wide = step === "order" ? (work.dataset.wide ?? "pieces") : step;
  work.dataset.wide = wide;
  for (const name of STEPS) {
    byId(`to-${name}`).setAttribute("aria-current", name === step ? "step" : "false");
    if (name !== "order") byId(name).hidden = name !== wide;
  }
  if (focus && asked === step) byId(`${step}-head`).focus(); // the way past the top goes to the work itself
}

function showAs(text, focus) {
  byId("fields").hidden = text;
  byId("text").hidden = !text;
  byId("as-text").setAttribute("aria-pressed", String(text));
  byId("as-fields").setAttribute("aria-pressed", String(!text));
  if (focus && text) byId("toml").focus();
}

function toField(path) {
  history.pushState(null, "", "#order"); // which, other than location.hash, moves the focus nowhere
  showStep(false);
  if (byId("fields").hidden) showAs(false, false);
  goTo(path);
}

function showKept(keeper) {
  byId("kept").textContent = KEPT[keeper.state] ?? KEPT.kept;
  byId("kept").dataset.state = keeper.state;
  byId("undo").disabled = !keeper.job.can_undo;
  byId("redo").disabled = !keeper.job.can_redo;
  const title = typeof keeper.job.tables?.title === "string" ? keeper.job.tables.title : "An order without a title";
  byId("title").textContent = title;
  document.title = `${title}: cutfiles`;
}

async function open() {
  const id = byId("work").dataset.job;
  const [job, form] = await Promise.all([ask(`/api/jobs/${encodeURIComponent(id)}`), ask("/api/form")]);
  const keeper = new Keeper(id, job);
  const run = new Run(keeper);
  const results = new Results(keeper);
  const fields = new Form(keeper, form, byId("fields"));
  const text = new Text(keeper, byId("text"));
  new Pieces(keeper, fields);
  new Lays(keeper, run, results);
  keeper.listen(() => {
    showKept(keeper);
    fields.show(keeper.job);
    text.show(keeper);
    showMend(byId("mend"), keeper.job, toField, (line) => {
      showAs(true, false);
      text.goTo(line);
    });
  });
  byId("undo").addEventListener("click", () => keeper.step("undo"));
  byId("redo").addEventListener("click", () => keeper.step("redo"));
  byId("as-fields").addEventListener("click", async () => {
    if (!(await keeper.settled())) {
      notice("fields", NOT_YET);
      return;
    }
    if (!isReadable(keeper.job)) {
      notice("fields", "The text cannot be read as a job file yet, so there are no fields to show: mend it as it says above, or undo.");
      return;
    }
    showAs(false, true);
  });
  byId("as-text").addEventListener("click", async () => {
    if (await keeper.settled()) showAs(true, true);
    else notice("fields", NOT_YET);
  });
  showAs(!isReadable(job), false);
  keeper.tell();
  addEventListener("hashchange", () => showStep(true));
  addEventListener("popstate", () => showStep(false));
  showStep(false);
  // what scrolls below the top of the page has to know how high that is
  const top = byId("top");
  new ResizeObserver(() => document.documentElement.style.setProperty("--top", `${top.offsetHeight}px`)).observe(top);
  const look = async () => {
    await results.look();
    await run.look();
  };
  addEventListener("focus", () => look().catch(() => {})); // said when something is to be saved
  await look();
}

open().catch((refused) => {
  byId("kept").textContent = refused instanceof NoAnswer ? refused.message : `This order could not be opened. ${refused.message}`;
  if (!(refused.status || refused instanceof NoAnswer)) throw refused;
});
