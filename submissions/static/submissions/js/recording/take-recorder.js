/* One take, from a fresh microphone to bytes that are safe on this phone.

   new TakeRecorder({user, assignment, lines, workletUrl, onLevel, onSeconds, onTrouble})
     .open()                     a fresh stream and audio context; throws MicrophoneError
     .record({sounding, plan})   counts off and records. `plan` is [{label, tempo, beatsInBar, beats, countOff}], played
                                 one after the other, each with its own count-off; onCount(line, word index) and
                                 onPlay(line, beat) report where it stands
     .stop() -> take             the finished take of the store
     .close()                    lets go of microphone, audio and screen lock

   Each second goes to the store as it is recorded, so whatever ends the recording (a call, a locked screen, an unplugged
   microphone, a full disk) ends it with everything up to that second kept; onTrouble gets the sentence. */

import { addChunk, finishTake, changeTake, holdRecording, isFull, newTakeId, startTake } from "../store.js";
import { Beats } from "./beats.js";
import { MicrophoneError, openMicrophone, recordingGraph } from "./microphone.js";
import { watchLevel } from "./meter.js";

const TYPES = ["audio/webm;codecs=opus", "audio/mp4;codecs=opus", "audio/mp4", "audio/ogg;codecs=opus"];
const BITS_PER_SECOND = 64_000;
const CHUNK_MS = 1000;
const LONGEST_SECONDS = 10 * 60;
const CHIRP_BEFORE_COUNT = 0.25;
const SILENT_SECONDS = 5;
const HEARD = 0.01;

const KEPT = "What you played up to then is kept.";
const TROUBLE = {
  error: `The recorder stopped by itself. ${KEPT}`,
  ended: `The microphone was unplugged or taken by a call. ${KEPT}`,
  mute: `The phone took the microphone away, as it does for a call. ${KEPT}`,
  hidden: `The recording stopped because this page went to the background. ${KEPT}`,
  full: `This phone has no room left. ${KEPT} Delete something, then record again.`,
  long: `Ten minutes is the longest take. ${KEPT}`,
  silent: "I hear nothing. Is the microphone covered, or the wrong one?",
};

export class TakeRecorder {
  constructor({ user, assignment, lines, workletUrl, onLevel, onSeconds, onTrouble, onEnded }) {
    Object.assign(this, { user, assignment, lines, workletUrl, onLevel, onSeconds, onTrouble, onEnded });
    this.guards = new AbortController();
    this.counters = [];
  }

  async open() {
    this.stream = await openMicrophone();
    this.context = new AudioContext();
    await this.context.resume();
    this.graph = recordingGraph(this.context, this.stream);
    this.stopLevel = await watchLevel({
      context: this.context,
      source: this.graph.source,
      workletUrl: this.workletUrl,
      onLevel: (level) => this.hear(level),
    });
  }

  hear(level) {
    this.onLevel(level);
    if (!this.recorder || this.recorder.state !== "recording") return;
    const now = this.context.currentTime;
    if (level.peak > HEARD) this.lastSound = now;
    if (!this.saidSilent && now - Math.max(this.lastSound ?? 0, this.beatOne) > SILENT_SECONDS) {
      this.saidSilent = true;
      this.onTrouble(TROUBLE.silent, { goesOn: true });
    }
  }

  async record({ sounding, plan, onCount, onPlay }) {
    const type = TYPES.find((wanted) => MediaRecorder.isTypeSupported(wanted)) ?? "";
    this.recorder = new MediaRecorder(this.graph.stream, {
      ...(type && { mimeType: type }),
      audioBitsPerSecond: BITS_PER_SECOND,
    });
    this.id = newTakeId();
    this.release = holdRecording(this.id);
    this.take = await startTake({
      id: this.id,
      user: this.user,
      assignment: this.assignment,
      lines: this.lines,
      origin: "recorder",
      mime: this.recorder.mimeType || type || "audio/webm",
    });
    this.chunks = 0;
    this.writing = Promise.resolve();
    this.recorder.ondataavailable = ({ data }) => this.keep(data);
    this.recorder.onerror = () => this.broke("error");
    this.guard();
    await this.holdScreen();
    await new Promise((started) => {
      this.recorder.onstart = started;
      this.recorder.start(CHUNK_MS);
    });
    this.startedAt = this.context.currentTime;
    this.schedule({ sounding, plan, onCount, onPlay });
    this.clock = setInterval(() => this.tick(), 250);
  }

  schedule({ sounding, plan, onCount, onPlay }) {
    const chirpAt = this.context.currentTime + CHIRP_BEFORE_COUNT;
    this.graph.mark(chirpAt);
    let from = chirpAt + CHIRP_BEFORE_COUNT;
    plan.forEach((line, index) => {
      const secondsPerBeat = 60 / line.tempo;
      const count = line.countOff.length;
      const total = count + line.beats;
      const beats = new Beats(this.context, {
        beats: total,
        secondsPerBeat,
        accentEvery: line.beatsInBar,
        sounding,
        onBeat: (beat) => (beat < count ? onCount(line, beat) : onPlay(line, beat - count)),
      });
      beats.start(from);
      this.counters.push(beats);
      if (index === 0) this.beatOne = from + count * secondsPerBeat;
      from += total * secondsPerBeat;
    });
    this.leadSeconds = this.beatOne - chirpAt;
    return changeTake(this.user, this.id, { leadSeconds: this.leadSeconds });
  }

  keep(data) {
    if (!data.size) return;
    const n = this.chunks;
    this.chunks += 1;
    this.writing = this.writing
      .then(() => addChunk(this.id, n, data))
      .catch((error) => this.broke(isFull(error) ? "full" : "error"));
  }

  tick() {
    const seconds = this.context.currentTime - this.startedAt;
    this.onSeconds(seconds);
    if (seconds > LONGEST_SECONDS) this.broke("long");
  }

  guard() {
    const { signal } = this.guards;
    const [track] = this.stream.getAudioTracks();
    track.addEventListener("ended", () => this.broke("ended"), { signal });
    track.addEventListener("mute", () => this.broke("mute"), { signal });
    document.addEventListener("visibilitychange", () => document.hidden && this.broke("hidden"), { signal });
    window.addEventListener("pagehide", () => this.flush(), { signal });
  }

  flush() {
    if (this.recorder?.state === "recording") this.recorder.requestData();
  }

  async broke(reason) {
    if (this.ended) return;
    this.onTrouble(TROUBLE[reason], { goesOn: false });
    const take = await this.stop();
    this.onEnded(take);
  }

  async holdScreen() {
    try {
      this.screen = await navigator.wakeLock?.request("screen");
    } catch {
      // a battery saver may refuse; the recording goes on, the screen may dim
    }
  }

  /** @returns the finished take, or null when nothing at all was recorded */
  async stop() {
    if (this.ended) return this.ended;
    this.ended = this.finish();
    return this.ended;
  }

  async finish() {
    const seconds = this.context.currentTime - this.startedAt;
    clearInterval(this.clock);
    for (const counter of this.counters) counter.stop();
    if (this.recorder.state !== "inactive") {
      await new Promise((stopped) => {
        this.recorder.onstop = stopped;
        this.recorder.stop();
      });
    }
    await this.writing;
    try {
      return await finishTake(this.user, this.id, { seconds });
    } catch {
      return null;
    } finally {
      this.release();
      await this.close();
    }
  }

  async close() {
    this.guards.abort();
    for (const counter of this.counters) counter.stop();
    clearInterval(this.clock);
    this.stopLevel?.();
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    await this.screen?.release().catch(() => {});
    if (this.context && this.context.state !== "closed") await this.context.close();
  }
}

export { MicrophoneError };
