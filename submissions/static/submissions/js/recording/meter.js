/* How loud the microphone is, in steps a child can read.

   watchLevel({context, source, workletUrl, onLevel}) -> Promise<stop()>: calls onLevel({step, level, peak}) twenty times
     a second. step is 0 to STEPS, of this moment; level, "none", "quiet", "good" or "loud", is of the last second, so
     that the word does not flicker between two notes. */

export const STEPS = 15;
const QUIETEST_DB = -54;
const TOO_QUIET_DB = -36;
const TOO_LOUD_DB = -1;
const REMEMBERED = 20;

const decibels = (peak) => (peak > 0 ? 20 * Math.log10(peak) : -Infinity);

export function stepOf(peak) {
  const db = decibels(peak);
  if (db < QUIETEST_DB) return 0;
  return Math.max(0, Math.min(STEPS, Math.round((1 - db / QUIETEST_DB) * STEPS)));
}

export function levelOf(peak) {
  const db = decibels(peak);
  if (db < QUIETEST_DB) return "none";
  if (db < TOO_QUIET_DB) return "quiet";
  return db > TOO_LOUD_DB ? "loud" : "good";
}

export async function watchLevel({ context, source, workletUrl, onLevel }) {
  await context.audioWorklet.addModule(workletUrl);
  const meter = new AudioWorkletNode(context, "meter", { numberOfOutputs: 0 });
  const last = [];
  meter.port.onmessage = ({ data: peak }) => {
    last.push(peak);
    if (last.length > REMEMBERED) last.shift();
    onLevel({ step: stepOf(peak), level: levelOf(Math.max(...last)), peak });
  };
  source.connect(meter);
  return () => {
    meter.port.onmessage = null;
    source.disconnect(meter);
  };
}
