/* Beats on the audio clock, seen and heard.

   A timer only looks ahead: every 25 ms it schedules what falls due in the next 120 ms, so a busy page never makes a
   click late. The picture follows by timers set against the same clock.

   new Beats(context, {beats, secondsPerBeat, accentEvery, soundsUntil, onBeat})
     beats          how many to count in all, or Infinity
     soundsUntil    the beat before which each clicks through the loudspeaker: 0 for by sight alone, Infinity for all
     onBeat(k)      called at beat k, from 0
   .start(at) -> time of beat 0;  .stop() */

const LOOK_AHEAD = 0.12;
const EVERY_MS = 25;
const CLICK = { accentHz: 1760, plainHz: 1320, seconds: 0.05, level: 0.4 };

export class Beats {
  constructor(context, { beats, secondsPerBeat, accentEvery, soundsUntil, onBeat }) {
    Object.assign(this, { context, beats, secondsPerBeat, accentEvery, soundsUntil, onBeat });
    this.next = 0;
    this.timers = new Set();
  }

  start(at) {
    this.first = at;
    this.ticker = setInterval(() => this.schedule(), EVERY_MS);
    this.schedule();
    return at;
  }

  schedule() {
    for (; this.next < this.beats; this.next += 1) {
      const at = this.first + this.next * this.secondsPerBeat;
      const wait = at - this.context.currentTime;
      if (wait > LOOK_AHEAD) return;
      const beat = this.next;
      if (beat < this.soundsUntil && wait > -this.secondsPerBeat / 2) click(this.context, Math.max(at, 0), beat % this.accentEvery === 0);
      const timer = setTimeout(() => {
        this.timers.delete(timer);
        this.onBeat(beat);
      }, Math.max(0, wait * 1000));
      this.timers.add(timer);
    }
    clearInterval(this.ticker);
  }

  stop() {
    clearInterval(this.ticker);
    for (const timer of this.timers) clearTimeout(timer);
    this.timers.clear();
  }
}

function click(context, at, accent) {
  const tone = context.createOscillator();
  const gain = context.createGain();
  tone.frequency.value = accent ? CLICK.accentHz : CLICK.plainHz;
  gain.gain.setValueAtTime(0, at);
  gain.gain.linearRampToValueAtTime(CLICK.level, at + 0.002);
  gain.gain.exponentialRampToValueAtTime(0.001, at + CLICK.seconds);
  tone.connect(gain).connect(context.destination);
  tone.start(at);
  tone.stop(at + CLICK.seconds + 0.01);
}
