/* Runs on the audio thread: posts the loudest sample of each twentieth of a second, 0 to 1. */

class Meter extends AudioWorkletProcessor {
  constructor() {
    super();
    this.peak = 0;
    this.left = sampleRate / 20;
  }

  process([input]) {
    const channel = input?.[0];
    if (channel) for (const sample of channel) this.peak = Math.max(this.peak, Math.abs(sample));
    this.left -= channel?.length ?? 128;
    if (this.left <= 0) {
      this.port.postMessage(this.peak);
      this.peak = 0;
      this.left += sampleRate / 20;
    }
    return true;
  }
}

registerProcessor("meter", Meter);
