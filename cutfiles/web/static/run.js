// The nest of an order: asks the program how far it is, twice a second while it runs.

import { ask } from "./ask.js";
import { placed } from "./lay_view.js";

const EVERY_MS = 500;
const GOING = ["waiting", "nesting", "writing"];

export function isGoing(run) {
  return Boolean(run) && GOING.includes(run.state);
}

export class Run {
  constructor(keeper) {
    this.keeper = keeper;
    this.now = null;
    this.listeners = [];
    this.timer = null;
    this.asked = null; // the look that was begun last
  }

  listen(listener) {
    this.listeners.push(listener);
  }

  // Also how a reloaded page, or another window, takes a nest up that it did not begin.
  async look() {
    clearTimeout(this.timer);
    const asked = Symbol("look");
    this.asked = asked;
    let pause = EVERY_MS;
    let now = this.now;
    try {
      now = await this.seen(this.now);
    } catch {
      pause = 4 * EVERY_MS;
    }
    if (this.asked !== asked) return; // a later look sees more
    const before = this.now;
    this.now = now;
    for (const listener of this.listeners) listener(now, before);
    if (isGoing(now)) this.timer = setTimeout(() => this.look(), pause);
  }

  // Lays that were drawn already are not sent again.
  async seen(before) {
    const path = `${this.keeper.path}/run`;
    let now = await ask(`${path}?seen=${before?.step ?? ""}`);
    if (now.lays === null && now.run !== before?.run) now = await ask(path);
    return now.run === null ? null : { ...now, lays: placed(now.lays ?? before.lays) };
  }

  async start(how) {
    if (!(await this.keeper.settled())) throw new Error("What you wrote is not kept yet: the nest has to wait for it.");
    await ask(`${this.keeper.path}/nest`, { revision: this.keeper.job.revision, ...how });
    await this.look();
  }

  async stop() {
    await ask(`${this.keeper.path}/stop`, {});
    await this.look();
  }

  async cancel() {
    await ask(`${this.keeper.path}/cancel`, {});
    await this.look();
  }
}
