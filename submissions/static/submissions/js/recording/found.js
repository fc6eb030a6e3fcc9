/* What is in a recording, looked at on the phone itself before anything is turned in.

   lookInto(blob) -> {seconds, level, quietParts, samples, rate}
     level   "silent", "quiet", "good", "loud"; "unreadable" where this browser cannot decode it; "tooBig"
     samples one channel at `rate`, null where it was not decoded
   The levels are those of the server's preparation (submissions.preparing.loudness), so the two do not disagree. */

const RATE = 16_000;
const BIN = RATE / 100;
const MOST_BYTES = 24 * 1024 * 1024;
// Decoded, twelve minutes are 46 MB a channel; an old phone has no more to give.
const MOST_SECONDS = 12 * 60;
const SILENT_BELOW = 0.003;
const QUIET_BELOW = 0.02;
const CLIPPED_AT = 0.999;
const CLIPPED_SHARE = 0.0005;
const IGNORED_SHARE = 0.01;
const HEADER_WITHIN_MS = 5000;

export async function lookInto(blob) {
  const declared = await lengthOf(blob);
  const nothing = { seconds: declared, quietParts: false, samples: null, rate: RATE };
  if (blob.size > MOST_BYTES || declared > MOST_SECONDS) return { ...nothing, level: "tooBig" };
  let buffer;
  try {
    buffer = await new OfflineAudioContext(1, 1, RATE).decodeAudioData(await blob.arrayBuffer());
  } catch {
    return { ...nothing, level: "unreadable" };
  }
  const samples = buffer.getChannelData(0);
  const { level, quietParts } = judge(samples);
  return { seconds: buffer.duration, level, quietParts, samples, rate: RATE };
}

export function judge(samples) {
  const bins = new Float32Array(Math.ceil(samples.length / BIN));
  let clipped = 0;
  for (let n = 0; n < samples.length; n += 1) {
    const size = Math.abs(samples[n]);
    const bin = Math.floor(n / BIN);
    if (size > bins[bin]) bins[bin] = size;
    if (size >= CLIPPED_AT) clipped += 1;
  }
  const sorted = bins.slice().sort();
  const top = sorted[Math.floor((sorted.length - 1) * (1 - IGNORED_SHARE))] ?? 0;
  const quiet = bins.reduce((count, size) => count + (size < SILENT_BELOW ? 1 : 0), 0);
  const loud = clipped > CLIPPED_SHARE * samples.length;
  const level = top < SILENT_BELOW ? "silent" : top < QUIET_BELOW ? "quiet" : loud ? "loud" : "good";
  return { level, quietParts: level !== "silent" && quiet > bins.length / 2 };
}

/** Seconds by the file's own header, null where the browser cannot tell; a recorder's webm has none. */
function lengthOf(blob) {
  const url = URL.createObjectURL(blob);
  const audio = new Audio();
  return new Promise((resolve) => {
    const tell = () => resolve(Number.isFinite(audio.duration) ? audio.duration : null);
    audio.onloadedmetadata = tell;
    audio.onerror = () => resolve(null);
    setTimeout(() => resolve(null), HEADER_WITHIN_MS);
    audio.preload = "metadata";
    audio.src = url;
  }).finally(() => {
    audio.removeAttribute("src");
    URL.revokeObjectURL(url);
  });
}
