/* The microphone, and the graph that is recorded from it.

   openMicrophone() -> Promise<MediaStream>: a fresh stream with the browser's own sound mending turned off, since echo
     cancellation, noise suppression and automatic gain swallow soft notes and bend long ones.
   MicrophoneError: .message is a sentence with the way out.
   recordingGraph(context, stream) -> {stream, source, mark(at)}: what the recorder hears is the microphone and, once,
     a short rising chirp at an exact time of the audio clock. The chirp never reaches a loudspeaker. The server finds it
     and so knows where beat 1 stands, whatever delay the phone added before its first sound. */

export const CHIRP = { seconds: 0.04, fromHz: 1500, toHz: 6000, level: 0.35 };

const WANTED = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 };

const SENTENCES = {
  NotAllowedError:
    "The microphone is not allowed for this page. Press the sign beside the page’s address, allow the microphone, then load the page again.",
  NotFoundError: "No microphone was found. Plug one in, or use a phone or another computer.",
  NotReadableError: "Another program holds the microphone. Close calls and other recorders, then try again.",
  insecure: "A microphone only works on a secure address that starts with https. Tell your director.",
  unable: "This browser cannot record. Update it, or record elsewhere and add the file to your work.",
};

export class MicrophoneError extends Error {
  constructor(name, cause) {
    super(SENTENCES[name] ?? "The microphone did not start. Load the page again, or restart the browser.", { cause });
    this.name = name;
  }
}

export async function openMicrophone() {
  if (!window.isSecureContext) throw new MicrophoneError("insecure");
  if (!navigator.mediaDevices?.getUserMedia || !window.MediaRecorder) throw new MicrophoneError("unable");
  try {
    return await navigator.mediaDevices.getUserMedia({ audio: WANTED });
  } catch (error) {
    throw new MicrophoneError(error.name, error);
  }
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
      const chirp = context.createBufferSource();
      chirp.buffer = chirpBuffer(context);
      chirp.connect(out);
      chirp.start(at);
    },
  };
}

function chirpBuffer(context) {
  const length = Math.round(CHIRP.seconds * context.sampleRate);
  const buffer = context.createBuffer(1, length, context.sampleRate);
  const samples = buffer.getChannelData(0);
  const rise = (CHIRP.toHz - CHIRP.fromHz) / CHIRP.seconds;
  for (let n = 0; n < length; n += 1) {
    const t = n / context.sampleRate;
    samples[n] =
      CHIRP.level * Math.sin(2 * Math.PI * (CHIRP.fromHz * t + 0.5 * rise * t * t)) * Math.sin((Math.PI * n) / length);
  }
  return buffer;
}
