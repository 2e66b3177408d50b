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
  }

  listen(listener) {
    this.listeners.push(listener);
  }

  // Also how a reloaded page takes a nest up again that it did not start.
  async look() {
    clearTimeout(this.timer);
    const before = this.now;
    try {
      const now = await ask(`${this.keeper.path}/run?seen=${before?.step ?? 0}`);
      // lays that were drawn already are not sent again
      const lays = now.lays ?? (now.run === before?.run ? before.lays : []);
      this.now = now.run === undefined ? null : { ...now, lays: placed(lays) };
    } catch (refused) {
      if (refused.status === 404) this.now = null;
      else if (isGoing(this.now)) this.timer = setTimeout(() => this.look(), 4 * EVERY_MS);
    }
    for (const listener of this.listeners) listener(this.now, before);
    if (isGoing(this.now)) {
      clearTimeout(this.timer);
      this.timer = setTimeout(() => this.look(), EVERY_MS);
    }
  }

  async start(seconds, seed) {
    await this.keeper.send();
    await ask(`${this.keeper.path}/nest`, { seconds, seed });
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
