/* How loud the microphone is, in steps a child can read.

   watchLevel({context, source, workletUrl, onLevel}) -> Promise<stop()>: calls onLevel({step, says, peak}) twenty times
     a second; step is 0 to STEPS, says one of the words below. */

export const STEPS = 15;
const QUIETEST_DB = -54;
const TOO_QUIET_DB = -36;
const TOO_LOUD_DB = -1;

const decibels = (peak) => (peak > 0 ? 20 * Math.log10(peak) : -Infinity);

export function judge(peak) {
  const db = decibels(peak);
  const step = Math.max(0, Math.min(STEPS, Math.round((1 - db / QUIETEST_DB) * STEPS)));
  if (db < QUIETEST_DB) return { step: 0, says: "No sound yet", peak };
  if (db < TOO_QUIET_DB) return { step, says: "Too quiet: come closer", peak };
  if (db > TOO_LOUD_DB) return { step, says: "Too loud: step back", peak };
  return { step, says: "Good level", peak };
}

export async function watchLevel({ context, source, workletUrl, onLevel }) {
  await context.audioWorklet.addModule(workletUrl);
  const meter = new AudioWorkletNode(context, "meter", { numberOfOutputs: 0 });
  meter.port.onmessage = ({ data }) => onLevel(judge(data));
  source.connect(meter);
  return () => {
    meter.port.onmessage = null;
    source.disconnect(meter);
  };
}
