/* One plain tone, to find the first note by ear.

   playTone(context, hz, {family, seconds}): harmonics chosen by ear for a reed, brass, flute-like or bell sound; they
   only help to tell the sections apart, the pitch is exact. */

const HARMONICS = {
  woodwind: [0, 1, 0.3, 0.4, 0.08, 0.2, 0.05],
  brass: [0, 1, 0.8, 0.6, 0.42, 0.3, 0.2, 0.12],
  percussion: [0, 1, 0, 0, 0.25],
};
const LEVEL = 0.22;

export function playTone(context, hz, { family = "woodwind", seconds = 1.6 } = {}) {
  const shape = new Float32Array(HARMONICS[family] ?? HARMONICS.woodwind);
  const tone = context.createOscillator();
  const gain = context.createGain();
  const from = context.currentTime + 0.05;
  tone.setPeriodicWave(context.createPeriodicWave(new Float32Array(shape.length), shape));
  tone.frequency.value = hz;
  gain.gain.setValueAtTime(0, from);
  gain.gain.linearRampToValueAtTime(LEVEL, from + 0.04);
  gain.gain.setValueAtTime(LEVEL, from + seconds - 0.1);
  gain.gain.linearRampToValueAtTime(0, from + seconds);
  tone.connect(gain).connect(context.destination);
  tone.start(from);
  tone.stop(from + seconds + 0.05);
  return tone;
}
