/* Plays planned passes on the audio clock.

   A timer only looks ahead: every 25 ms it schedules what falls due in the next 150 ms, so that a busy page makes no
   beat late. What is lit follows the same clock, less the time the sound needs to reach the ear.

   new LinePlayer(context, {kind, onLight, onPassed, onEnd})
     .start(nextPlan)  nextPlan() gives the plan of the next pass, or null to end
     .stop()           at once, and silent
     .latest           the most that a light came after its beat, in seconds */

import { click, tone } from "./tone.js";

const LOOK_AHEAD = 0.15;
const EVERY_MS = 25;
const FIRST_WAIT = 0.15;
const EARLY = 0.008; // half a frame: a light is then as often early as late

export class LinePlayer {
  constructor(context, { kind, onLight, onPassed = () => {}, onEnd = () => {} }) {
    Object.assign(this, { context, kind, onLight, onPassed, onEnd, latest: 0 });
  }

  start(nextPlan) {
    this.nextPlan = nextPlan;
    this.out = this.context.createGain();
    this.out.connect(this.context.destination);
    this.lights = [];
    this.sounds = [];
    this.passes = [];
    this.until = this.context.currentTime + FIRST_WAIT;
    this.ended = false;
    this.ticker = setInterval(() => this.schedule(), EVERY_MS);
    this.schedule();
    this.frame = requestAnimationFrame(() => this.light());
  }

  stop() {
    clearInterval(this.ticker);
    cancelAnimationFrame(this.frame);
    this.out?.disconnect();
    this.out = null;
  }

  schedule() {
    const horizon = this.context.currentTime + LOOK_AHEAD;
    while (!this.ended && this.until <= horizon + LOOK_AHEAD) this.append();
    while (this.sounds.length && this.sounds[0].at <= horizon) {
      const sound = this.sounds.shift();
      const at = Math.max(sound.at, this.context.currentTime);
      if (sound.accent === undefined) tone(this.context, { ...sound, at, kind: this.kind, out: this.out });
      else click(this.context, { ...sound, at, out: this.out });
    }
  }

  append() {
    const plan = this.nextPlan();
    if (!plan) {
      this.ended = true;
      return;
    }
    const moved = (event) => ({ ...event, at: event.at + this.until });
    this.sounds.push(...[...plan.clicks, ...plan.tones].map(moved).sort((a, b) => a.at - b.at));
    this.lights.push(...plan.lights.map(moved));
    this.until += plan.seconds;
    this.passes.push(this.until);
  }

  light() {
    if (!this.out) return;
    const now = this.context.currentTime - (this.context.outputLatency || this.context.baseLatency || 0);
    let due = null;
    while (this.lights.length && this.lights[0].at <= now + EARLY) due = this.lights.shift();
    if (due) {
      this.latest = Math.max(this.latest, now - due.at);
      this.onLight(due);
    }
    while (this.passes.length && this.passes[0] <= now) {
      this.passes.shift();
      this.onPassed();
    }
    if (this.ended && !this.passes.length) {
      this.stop();
      this.onEnd();
      return;
    }
    this.frame = requestAnimationFrame(() => this.light());
  }
}
