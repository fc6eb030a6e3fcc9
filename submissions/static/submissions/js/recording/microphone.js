/* The microphone, and the graph that is recorded from it.

   openMicrophone({onAsked}) -> Promise<MediaStream>: a fresh stream with the browser's own sound mending turned off, since
     echo cancellation, noise suppression and automatic gain swallow soft notes and bend long ones. onAsked() is called
     where the browser's question has stood for a while; one that is never answered ends as "unanswered".
   MicrophoneError: .code is refused, dismissed, unanswered, system, none, busy, insecure, unable or failed.
   browserName() -> "chrome", "safari" or "firefox": whose switches the way out is told for.
   recordingGraph(context, stream) -> {stream, source, mark(at)}: what the recorder hears is the microphone and, once,
     a short rising chirp at an exact time of the audio clock. The chirp never reaches a loudspeaker. The server finds it
     and so knows where beat 1 stands, whatever delay the phone added before its first sound. */

import { NoAnswer, within } from "../answer.js";
import { CHIRP, chirp } from "./chirp.js";

const WANTED = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 };
// A child looks for the question; who has not found it by then presses again.
const ASKED_AFTER_MS = 4000;
const ANSWER_WITHIN_MS = 60_000;
const CODES = {
  NotAllowedError: "refused",
  SecurityError: "refused",
  NotFoundError: "none",
  OverconstrainedError: "none",
  NotReadableError: "busy",
  AbortError: "busy",
};

export class MicrophoneError extends Error {
  constructor(code, cause) {
    super(code, { cause });
    this.name = "MicrophoneError";
    this.code = code;
  }
}

export async function openMicrophone({ onAsked = () => {} } = {}) {
  if (!window.isSecureContext) throw new MicrophoneError("insecure");
  if (!navigator.mediaDevices?.getUserMedia || !window.MediaRecorder || !window.AudioWorkletNode) {
    throw new MicrophoneError("unable");
  }
  const opening = navigator.mediaDevices.getUserMedia({ audio: WANTED });
  const asked = setTimeout(onAsked, ASKED_AFTER_MS);
  try {
    return await within(opening, ANSWER_WITHIN_MS);
  } catch (error) {
    // an answer that comes after all must not leave a microphone open that nobody uses
    opening.then((stream) => stream.getTracks().forEach((track) => track.stop()), () => {});
    throw new MicrophoneError(error instanceof NoAnswer ? "unanswered" : codeOf(error), error);
  } finally {
    clearTimeout(asked);
  }
}

/** Chromium tells in words alone who refused: the person, the machine, or nobody who only closed the question. */
function codeOf({ name, message = "" }) {
  if (name === "NotAllowedError" && /dismiss/i.test(message)) return "dismissed";
  if (name === "NotAllowedError" && /system/i.test(message)) return "system";
  return CODES[name] ?? "failed";
}

export function browserName(agent = navigator.userAgent) {
  if (/Firefox|FxiOS/.test(agent)) return "firefox";
  if (/Safari/.test(agent) && !/Chrom|CriOS|Edg/.test(agent)) return "safari";
  return "chrome";
}

export function recordingGraph(context, stream) {
  const out = context.createMediaStreamDestination();
  out.channelCount = 1;
  const source = context.createMediaStreamSource(stream);
  source.connect(out);
  return {
    stream: out.stream,
    source,
    mark(at) {
      const samples = chirp(context.sampleRate).map((value) => CHIRP.level * value);
      const tone = context.createBufferSource();
      tone.buffer = context.createBuffer(1, samples.length, context.sampleRate);
      tone.buffer.copyToChannel(samples, 0);
      tone.connect(out);
      tone.start(at);
    },
  };
}
