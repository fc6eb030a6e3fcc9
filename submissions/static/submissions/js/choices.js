/* Which take of each line is to be turned in: the student's own choice, also after a reload; else the latest whole one.

   new Choices({assignment, lines: [{label, beats, tempo}]})
     settle(label, takes)   the takes that can be turned in, the latest last; drops a choice that is not among them
     get, has, set          by label, as of a map; entries for Object.fromEntries */

const WHOLE_SHARE = 0.7; // of the line's own length: who plays faster than asked is still whole

export class Choices {
  constructor({ assignment, lines }) {
    this.key = `bandroom.chosen.${assignment}`;
    this.seconds = new Map(lines.map((line) => [line.label, (line.beats * 60) / line.tempo]));
    this.chosen = new Map(Object.entries(this.kept()));
    this.own = new Set(this.chosen.keys());
  }

  settle(label, takes) {
    if (!takes.some((take) => take.id === this.chosen.get(label))) this.forget(label);
    if (this.own.has(label)) return;
    const best = takes.findLast((take) => this.isWhole(take)) ?? takes.at(-1);
    if (best) this.chosen.set(label, best.id);
  }

  isWhole(take) {
    if (take.cut) return false;
    const asked = take.lines.reduce((sum, label) => sum + (this.seconds.get(label) ?? 0), 0);
    return take.seconds === null || take.seconds >= WHOLE_SHARE * asked;
  }

  get(label) {
    return this.chosen.get(label);
  }

  has(label) {
    return this.chosen.has(label);
  }

  /** The student's own choice. */
  set(label, id) {
    this.chosen.set(label, id);
    this.own.add(label);
    this.keep();
  }

  [Symbol.iterator]() {
    return this.chosen[Symbol.iterator]();
  }

  forget(label) {
    this.chosen.delete(label);
    if (this.own.delete(label)) this.keep();
  }

  keep() {
    const own = Object.fromEntries([...this.chosen].filter(([label]) => this.own.has(label)));
    try {
      sessionStorage.setItem(this.key, JSON.stringify(own));
    } catch {
      // no storage: after a reload the latest whole take is offered
    }
  }

  kept() {
    try {
      return JSON.parse(sessionStorage.getItem(this.key) ?? "{}");
    } catch {
      return {};
    }
  }
}
