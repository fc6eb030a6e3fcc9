/* The tone that marks the count-off inside a recording: 40 ms, rising from 1.5 to 6 kHz, swelling and fading as half a
   sine. chirp(rate) makes it; findChirp finds it again on the phone, so that the cursor can follow a take that never
   left it. The server looks for itself (submissions.preparing.marker). */

export const CHIRP = { seconds: 0.04, fromHz: 1500, toHz: 6000, level: 0.35 };

// Noise stays well below, as measured for the server's search.
const FOUND_AT = 0.45;

export function chirp(rate) {
  const length = Math.round(CHIRP.seconds * rate);
  const rise = (CHIRP.toHz - CHIRP.fromHz) / CHIRP.seconds;
  return Float32Array.from({ length }, (_, n) => {
    const t = n / rate;
    return Math.sin(2 * Math.PI * (CHIRP.fromHz * t + 0.5 * rise * t * t)) * Math.sin((Math.PI * n) / length);
  });
}

/** @returns seconds to the start of the chirp, looked for `within` seconds around `around`; null where it is not */
export function findChirp(samples, rate, { around, within = 0.5 }) {
  const tone = chirp(rate);
  const first = Math.max(0, Math.round((around - within) * rate));
  const last = Math.min(samples.length - tone.length, Math.round((around + within) * rate));
  const own = tone.reduce((sum, value) => sum + value * value, 0);
  let best = 0;
  let place = null;
  for (let start = first; start <= last; start += 1) {
    let together = 0;
    let energy = 0;
    for (let n = 0; n < tone.length; n += 1) {
      const sample = samples[start + n];
      together += sample * tone[n];
      energy += sample * sample;
    }
    const likeness = energy > 1e-8 ? Math.abs(together) / Math.sqrt(energy * own) : 0;
    if (likeness > best) [best, place] = [likeness, start / rate];
  }
  return best >= FOUND_AT ? place : null;
}
