// Keeps the order: sends changes one after another, takes answers in, and sees to it that two
// windows on one order lose nothing of each other's.

import { NoAnswer, ask } from "./ask.js";
import { after } from "./build.js";
import { dismiss, notice } from "./say.js";
import { spoken } from "./words.js";

const PAUSE_MS = 300;
const AGAIN_MS = 2000;

export function valueAt(tables, path) {
  let value = tables;
  for (const step of path) {
    if (value === null || value === undefined) return undefined;
    value = value[step];
  }
  return value;
}

// The tables of a list as they stand in the text, where that may hold anything: a slip such as [caps] for [[caps]].
export function rowsOf({ tables }, name) {
  const rows = tables?.[name];
  return Array.isArray(rows) ? rows.map((row) => (row && typeof row === "object" ? row : {})) : [];
}

function same(one, other) {
  return JSON.stringify(one) === JSON.stringify(other);
}

// "Cloth 1, width"
export function placeOf(path) {
  const words = [];
  for (const step of path) {
    if (typeof step === "number") words[words.length - 1] += ` ${step + 1}`;
    else words.push(words.length ? spoken(step).toLowerCase() : spoken(step));
  }
  return words.join(", ") || "the order";
}

export class Keeper {
  constructor(id, first) {
    this.id = id;
    this.job = first;
    this.waiting = []; // changes that were not sent yet
    this.onWay = []; // and those that were not answered yet
    this.isSending = false;
    this.text = null; // or the whole text
    this.turn = Promise.resolve(); // when what was begun before has ended
    this.clash = false;
    this.trouble = ""; // what was said of a change that is tried again
    this.listeners = [];
    this.state = "kept";
    this.soon = after(PAUSE_MS, () => this.send());
    this.others = new BroadcastChannel("cutfiles-orders");
    this.others.onmessage = ({ data }) => {
      if (data.id === this.id && data.revision !== this.job.revision) this.look();
    };
    document.addEventListener("visibilitychange", () => {
      if (!document.hidden) this.look();
    });
    addEventListener("focus", () => this.look());
    addEventListener("beforeunload", (event) => {
      if (this.unsent) event.preventDefault();
    });
  }

  get path() {
    return `/api/jobs/${encodeURIComponent(this.id)}`;
  }

  get unsent() {
    return this.toSend || this.isSending;
  }

  get toSend() {
    return this.waiting.length > 0 || this.text !== null;
  }

  pending(path) {
    return [...this.onWay, ...this.waiting].findLast((change) => change.append === undefined && same(change.path, path));
  }

  isPending(path) {
    return this.pending(path) !== undefined;
  }

  pendingAt(path) {
    return this.pending(path)?.value;
  }

  listen(listener) {
    this.listeners.push(listener);
  }

  tell() {
    for (const listener of this.listeners) listener(this);
  }

  take(job) {
    const moved = job.revision !== this.job.revision;
    this.job = job;
    if (moved) this.others.postMessage({ id: this.id, revision: job.revision });
    this.tell();
  }

  set(state) {
    this.state = state;
    this.tell();
  }

  // One value; undefined takes the key out.
  put(path, value) {
    const change = value === undefined ? { path, remove: true } : { path, value };
    this.waiting = this.waiting.filter((other) => other.append !== undefined || !same(other.path, path));
    this.waiting.push(change);
    this.set("waiting");
    this.soon();
  }

  // Changes of the lines themselves are sent at once, after all that was typed before them.
  async now(...changes) {
    this.waiting.push(...changes);
    this.set("waiting");
    await this.send();
  }

  write(text) {
    this.text = text;
    this.set("waiting");
    this.soon();
  }

  // What changes the order is asked for one after another, since each names the revision that it changes.
  async inTurn(work) {
    const before = this.turn;
    const mine = before.then(work);
    this.turn = mine.catch(() => {}); // whoever waits for its turn is not concerned
    return mine;
  }

  send() {
    return this.inTurn(async () => {
      while (this.toSend && !this.clash && (await this.exchange()));
    });
  }

  // Sends what waits, a whole text before changes; gives whether there is more to be sent at once.
  async exchange() {
    const { text, job: before } = this;
    const waiting = text === null ? this.waiting : [];
    if (text === null) this.waiting = [];
    this.text = null;
    this.onWay = waiting;
    this.isSending = true;
    this.set("saving");
    let refused = null;
    let newer = null;
    try {
      newer = await ask(this.path, { revision: before.revision, ...(text === null ? { changes: waiting } : { toml: text }) }, "PUT");
    } catch (error) {
      refused = error;
      if (refused.isStale) newer = await ask(this.path).catch(() => null);
    }
    this.onWay = [];
    this.isSending = false;
    if (!refused) {
      if (this.trouble) dismiss("refused");
      this.trouble = "";
      this.state = this.toSend ? "waiting" : "kept";
      this.take(newer);
      return text !== null; // changes that were typed meanwhile have their own pause
    }
    const again = refused.isStale || refused.isPassing || refused instanceof NoAnswer;
    if (again) this.restore(waiting, text);
    if (newer) return this.settle(before, newer);
    if (again) setTimeout(() => this.send(), AGAIN_MS);
    this.set(!again ? (this.toSend ? "waiting" : "kept") : refused.isPassing ? "again" : "unsaved");
    if (!again || refused.isPassing) this.complain(refused.message, again);
    return false;
  }

  // What is tried again is said once.
  complain(words, again) {
    if (words === this.trouble) return;
    this.trouble = again ? words : "";
    notice("refused", words);
  }

  // What was sent in vain stands before what was typed since.
  restore(waiting, text) {
    if (this.text === null) this.text = text;
    const later = this.waiting.map((change) => JSON.stringify(change.path));
    this.waiting = [
      ...waiting.filter((change) => change.append !== undefined || !later.includes(JSON.stringify(change.path))),
      ...this.waiting,
    ];
  }

  // Another window was first: what does not touch the same places is put on top of its changes. Gives whether all
  // can be sent so.
  settle(before, newer) {
    const touched = this.text === null ? this.waiting.filter((change) => !this.isFree(change, before, newer)) : null;
    if (touched?.length === 0) {
      this.job = newer;
      this.tell();
      notice(
        "newer",
        "This order was changed in another window meanwhile. Both are kept: your change was put on top of that one.",
      );
      return true;
    }
    this.clash = true;
    const where = touched === null ? "in its text" : `at ${touched.map((change) => placeOf(change.path)).join("; ")}`;
    const other = (touched ?? [])
      .filter((change) => change.append === undefined)
      .map((change) => `There: ${shown(valueAt(newer.tables, change.path))}, here: ${shown(change.value)}.`)
      .join(" ");
    this.set("clash");
    notice(
      "newer",
      `This order was changed in another window, ${where}, while you changed it here. Nothing is lost yet. ${other}`,
      [
        ["Keep what I wrote here", () => this.resolve(newer, true)],
        ["Take what the other window wrote", () => this.resolve(newer, false)],
      ],
    );
    return false;
  }

  isFree(change, before, newer) {
    // a line's number means the same line only while its list has not changed its length
    for (let depth = 1; depth < change.path.length; depth += 1) {
      const head = change.path.slice(0, depth);
      const was = valueAt(before.tables, head);
      const is = valueAt(newer.tables, head);
      if (Array.isArray(was) && was.length !== (Array.isArray(is) ? is.length : -1)) return false;
    }
    if (change.append !== undefined) return true;
    return same(valueAt(before.tables, change.path), valueAt(newer.tables, change.path));
  }

  async resolve(newer, mine) {
    this.clash = false;
    if (!mine) {
      this.waiting = [];
      this.text = null;
    }
    this.state = "kept";
    this.job = newer;
    this.tell();
    await this.send();
  }

  // Looks whether another window changed the order; what is being typed here is left alone.
  async look() {
    if (this.unsent || this.clash) return;
    try {
      const job = await ask(this.path);
      if (!this.unsent && job.revision > this.job.revision) {
        this.job = job;
        this.tell();
      }
    } catch {
      // said when there is something to save
    }
  }

  // Once all that was typed is kept; gives whether it is.
  async settled() {
    this.soon.now();
    await this.turn;
    return !this.clash && !this.unsent;
  }

  async step(which) {
    try {
      await this.call(which, {});
    } catch (refused) {
      if (refused.isStale) await this.look();
      notice("refused", refused.isStale
        ? "Another window changed this order first; its changes are shown now. Look at them, then take back what you want."
        : refused.message);
    }
  }

  // A call that changes the order on the server's side, as pins and undo do: after all that was typed.
  async call(name, body) {
    if (!(await this.settled())) throw new Error("What you wrote before is not kept yet: this has to wait for it.");
    await this.inTurn(async () => this.take(await ask(`${this.path}/${name}`, { revision: this.job.revision, ...body })));
  }
}

function shown(value) {
  if (value === undefined) return "nothing";
  return typeof value === "string" ? value : JSON.stringify(value);
}
