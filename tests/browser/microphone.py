"""A microphone made of a tone, with a hand on what a phone does to it. The rest of the browser is real."""

# `mic` in the page: .level of the tone, .error to refuse with; the streams, recorders and contexts in use.
SIMULATED = """
(() => {
  const Real = { AudioContext, MediaRecorder };
  const mic = { level: 0.3, error: null, streams: [], recorders: [], contexts: [] };
  globalThis.mic = mic;
  navigator.mediaDevices.getUserMedia = async () => {
    if (mic.error) throw new DOMException(mic.error.message ?? "", mic.error.name);
    const context = new Real.AudioContext();
    const tone = context.createOscillator();
    const out = context.createMediaStreamDestination();
    mic.gain = context.createGain();
    mic.gain.gain.value = mic.level;
    tone.frequency.value = 233.08; // concert B flat below middle C
    tone.connect(mic.gain).connect(out);
    tone.start();
    mic.streams.push(out.stream);
    return out.stream;
  };
  globalThis.MediaRecorder = class extends Real.MediaRecorder {
    constructor(...options) { super(...options); mic.recorders.push(this); }
  };
  globalThis.AudioContext = class extends Real.AudioContext {
    constructor(...options) { super(...options); mic.contexts.push(this); }
  };
  mic.track = () => mic.streams.at(-1).getAudioTracks()[0];
  mic.goes = (hidden) => {
    Object.defineProperty(document, "hidden", { value: hidden, configurable: true });
    const value = hidden ? "hidden" : "visible";
    Object.defineProperty(document, "visibilityState", { value, configurable: true });
    document.dispatchEvent(new Event("visibilitychange"));
  };
})();
"""

# What goes to the loudspeaker is heard by the recording at the same moment of the audio clock.
LOUDSPEAKER_IS_HEARD = """
(() => {
  const outs = new WeakMap();
  const make = AudioContext.prototype.createMediaStreamDestination;
  const connect = AudioNode.prototype.connect;
  AudioContext.prototype.createMediaStreamDestination = function () {
    const out = make.call(this);
    outs.set(this, out);
    return out;
  };
  AudioNode.prototype.connect = function (to, ...rest) {
    if (to === this.context.destination && outs.has(this.context)) connect.call(this, outs.get(this.context));
    return connect.call(this, to, ...rest);
  };
})();
"""

# The store of takes, by name in the page.
STORE = "async () => { globalThis.store = await import('/static/submissions/js/store.js'); }"

# Something else takes all the room there is, down to the last bytes.
FILL = """
async () => {
  let n = 0;
  for (const size of [100_000, 1_000]) {
    const noise = () => crypto.getRandomValues(new Uint8Array(size / 2)).buffer;
    try { for (;;) await store.addChunk("other", n++, noise()); }
    catch (error) { if (!store.isFull(error)) throw error; }
  }
}
"""
