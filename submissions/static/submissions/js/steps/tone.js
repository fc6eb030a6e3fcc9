/* The sounds of the play-along: a plain reed, brass, flute, bell or drum, and a click.

   Harmonics are chosen by ear, to tell the families apart; the pitch is exact. Each function schedules one sound at
   an exact time of the audio clock and returns nothing. */

const HARMONICS = {
  reed: [0, 1, 0.3, 0.45, 0.12, 0.22, 0.06],
  brass: [0, 1, 0.8, 0.6, 0.42, 0.3, 0.2, 0.12],
  flute: [0, 1, 0.18, 0.06],
  bell: [0, 1, 0, 0, 0.3],
};
const LEVEL = { reed: 0.2, brass: 0.17, flute: 0.24, bell: 0.28 };
const CLICK = { accentHz: 1760, plainHz: 1320, seconds: 0.05, level: 0.32 };
const SOFT = 0.012;

export function tone(context, { at, seconds, hz, kind, out = context.destination }) {
  if (hz === null) return drum(context, { at, out });
  const shape = new Float32Array(HARMONICS[kind] ?? HARMONICS.reed);
  const source = context.createOscillator();
  const gain = context.createGain();
  source.setPeriodicWave(context.createPeriodicWave(new Float32Array(shape.length), shape));
  source.frequency.value = hz;
  const level = LEVEL[kind] ?? LEVEL.reed;
  const end = at + Math.max(seconds, 0.08);
  gain.gain.setValueAtTime(0, at);
  gain.gain.linearRampToValueAtTime(level, at + SOFT);
  if (kind === "bell") gain.gain.exponentialRampToValueAtTime(level / 30, end);
  else gain.gain.setValueAtTime(level, end - 0.04);
  gain.gain.linearRampToValueAtTime(0, end);
  return play(source, gain, out, at, end);
}

export function click(context, { at, accent, out = context.destination }) {
  const source = context.createOscillator();
  const gain = context.createGain();
  source.frequency.value = accent ? CLICK.accentHz : CLICK.plainHz;
  gain.gain.setValueAtTime(0, at);
  gain.gain.linearRampToValueAtTime(CLICK.level, at + 0.002);
  gain.gain.exponentialRampToValueAtTime(0.001, at + CLICK.seconds);
  play(source, gain, out, at, at + CLICK.seconds + 0.01);
}

function drum(context, { at, out }) {
  const source = context.createOscillator();
  const gain = context.createGain();
  source.type = "triangle";
  source.frequency.setValueAtTime(240, at);
  source.frequency.exponentialRampToValueAtTime(110, at + 0.08);
  gain.gain.setValueAtTime(0.4, at);
  gain.gain.exponentialRampToValueAtTime(0.001, at + 0.14);
  play(source, gain, out, at, at + 0.15);
}

function play(source, gain, out, at, end) {
  source.connect(gain).connect(out);
  source.start(at);
  source.stop(end + 0.02);
}
