/* Is this file a recording at all? By its first bytes, as the server looks at them (submissions.preparing.signatures).

   isRecording(blob) -> Promise<boolean>   what the first bytes claim; whether it can be played the server tells */

const HEAD_BYTES = 16;
const STARTS = ["\x1a\x45\xdf\xa3", "OggS", "fLaC", "ID3", "#!AMR", "caff", ".snd", "\x30\x26\xb2\x75\x8e\x66\xcf\x11"];
const BOXES = ["ftyp", "moov", "mdat", "free", "skip", "wide", "styp", "moof"];

export async function isRecording(blob) {
  const head = new Uint8Array(await blob.slice(0, HEAD_BYTES).arrayBuffer());
  const text = String.fromCharCode(...head);
  if (STARTS.some((start) => text.startsWith(start)) || BOXES.includes(text.slice(4, 8))) return true;
  const [outer, inner] = [text.slice(0, 4), text.slice(8, 12)];
  if (["RIFF", "RF64"].includes(outer) && ["WAVE", "AVI "].includes(inner)) return true;
  if (outer === "FORM" && ["AIFF", "AIFC"].includes(inner)) return true;
  return head.length > 1 && head[0] === 0xff && (head[1] & 0xe0) === 0xe0;
}
