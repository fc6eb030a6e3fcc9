/* One take, from a fresh microphone to bytes that are safe on this phone.

   new TakeRecorder({user, assignment, lines, tempos, workletUrl, longestSeconds, onAsked, onLevel, onSeconds, onTrouble, onEnded})
     .open()                     a fresh stream and audio context; throws MicrophoneError, or NoAnswer where the browser's
                                 sound never starts. onAsked(): the browser's question about the microphone stands
     .record({clicks, timeline, onCount, onPlay})
                                 counts off and records. `timeline` is of timeline.js; clicks is "none", "count" (the
                                 count-off alone) or "all"; onCount(part, word index) and onPlay(part, beat) tell where
                                 it stands. Throws NoRoom
     .stop() -> take             the finished take of the store, null where nothing at all was recorded
     .close()                    lets go of microphone and audio
     .chirpSeconds               where the chirp stands in the recording, as well as the page can tell

   Each second goes to the store as it is recorded. Whatever ends a recording (a call, a locked screen, an unplugged
   microphone, a full disk) is treated alike: what is there is flushed and kept, onTrouble gets the code of a sentence
   and onEnded the take. Phones tell of the same event in different ways, so every one of them is listened to.

   The microphone is let go before the page turns to anything else, and each take has a stream and an audio context of
   its own: after a page was in the background, some phones hand back a stream that is silent for ever. */

import {
  EmptyTake,
  addChunk,
  changeTake,
  dropTake,
  finishTake,
  holdRecording,
  isFull,
  newTakeId,
  startTake,
  takeOf,
} from "../store.js";
import { wakeAudio, within } from "../answer.js";
import { Beats } from "./beats.js";
import { openMicrophone, recordingGraph } from "./microphone.js";
import { watchLevel } from "./meter.js";

const TYPES = ["audio/webm;codecs=opus", "audio/mp4;codecs=opus", "audio/mp4", "audio/ogg;codecs=opus"];
const BITS_PER_SECOND = 64_000;
const CHUNK_MS = 1000;
const CHIRP_BEFORE_COUNT = 0.25;
// From beat 1 on nothing above a whisper: a rest in a beginner's line is shorter.
const SILENT_SECONDS = 5;
const HEARD = 0.01;
// Not even noise: a microphone that is switched off, or a stream that died in the background.
const DEAD_SECONDS = 2;
const STOP_WITHIN_MS = 3000;
const METER_WITHIN_MS = 10_000;

export class NoRoom extends Error {}

export class TakeRecorder {
  constructor(options) {
    Object.assign(this, options);
    this.guards = new AbortController();
    this.counters = [];
    this.told = new Set();
  }

  get isRecording() {
    return this.recorder?.state === "recording" && !this.ended;
  }

  async open() {
    this.stream = await openMicrophone({ onAsked: this.onAsked });
    try {
      this.context = new AudioContext();
      await wakeAudio(this.context);
      this.graph = recordingGraph(this.context, this.stream);
      const watching = watchLevel({
        context: this.context,
        source: this.graph.source,
        workletUrl: this.workletUrl,
        onLevel: (level) => this.hear(level),
      });
      this.stopLevel = await within(watching, METER_WITHIN_MS);
    } catch (error) {
      await this.close();
      throw error;
    }
  }

  hear(level) {
    this.onLevel(level);
    if (!this.isRecording || this.beatOne === undefined) return;
    const now = this.context.currentTime;
    if (level.peak > 0) this.lastSign = now;
    if (level.peak > HEARD) this.lastSound = now;
    if (now - Math.max(this.lastSign ?? 0, this.startedAt) > DEAD_SECONDS) this.tellOnce("dead");
    else if (now - Math.max(this.lastSound ?? 0, this.beatOne) > SILENT_SECONDS) this.tellOnce("silent");
  }

  tellOnce(code) {
    if (this.told.has("dead") || this.told.has(code)) return;
    this.told.add(code);
    this.onTrouble(code);
  }

  async record({ clicks, timeline, onCount, onPlay }) {
    const type = TYPES.find((wanted) => MediaRecorder.isTypeSupported(wanted)) ?? "";
    this.recorder = new MediaRecorder(this.graph.stream, {
      ...(type && { mimeType: type }),
      audioBitsPerSecond: BITS_PER_SECOND,
    });
    this.id = newTakeId();
    this.release = holdRecording(this.id);
    this.chunks = 0;
    this.writing = Promise.resolve();
    this.recorder.ondataavailable = ({ data }) => this.keep(data);
    this.recorder.onerror = () => this.broke("error");
    try {
      await startTake({
        ...{ id: this.id, user: this.user, assignment: this.assignment, lines: this.lines, tempos: this.tempos },
        ...{ origin: "recorder", mime: this.recorder.mimeType || type || "audio/webm" },
      });
      await this.begin();
    } catch (error) {
      this.release();
      await dropTake(this.user, this.id).catch(() => {}); // an empty one, which the next visit would drop as well
      throw isFull(error) ? new NoRoom("This phone has no room.", { cause: error }) : error;
    }
    this.guard();
    this.schedule({ clicks, timeline, onCount, onPlay });
    this.clock = setInterval(() => this.tick(), 250);
  }

  begin() {
    return new Promise((started, failed) => {
      this.recorder.onstart = () => {
        this.startedAt = this.context.currentTime;
        started();
      };
      this.recorder.addEventListener("error", ({ error }) => failed(error), { once: true });
      this.recorder.start(CHUNK_MS);
    });
  }

  schedule({ clicks, timeline, onCount, onPlay }) {
    const chirpAt = this.context.currentTime + CHIRP_BEFORE_COUNT;
    const from = chirpAt + CHIRP_BEFORE_COUNT;
    this.graph.mark(chirpAt);
    for (const part of timeline) {
      const count = part.words.length;
      const beats = new Beats(this.context, {
        beats: count + part.line.beats,
        secondsPerBeat: part.secondsPerBeat,
        accentEvery: part.line.beatsInBar,
        soundsUntil: { none: 0, count, all: Infinity }[clicks],
        onBeat: (beat) => (beat < count ? onCount(part, beat) : onPlay(part, beat - count)),
      });
      beats.start(from + part.counts);
      this.counters.push(beats);
    }
    this.beatOne = from + timeline[0].plays;
    this.chirpSeconds = chirpAt - this.startedAt;
    this.leadSeconds = this.beatOne - chirpAt;
    // In order with the pieces, and before the take is finished.
    this.writing = this.writing
      .then(() => changeTake(this.user, this.id, { leadSeconds: this.leadSeconds }))
      .catch(() => this.broke("error"));
  }

  keep(data) {
    if (!data.size) return;
    const n = this.chunks;
    this.chunks += 1;
    this.writing = this.writing.then(() => {
      if (this.isShort) return undefined; // after a piece that found no room there must be no other
      return addChunk(this.id, n, data).catch((error) => {
        this.isShort = true;
        this.broke(isFull(error) ? "full" : "error");
      });
    });
  }

  tick() {
    const seconds = this.context.currentTime - this.startedAt;
    this.onSeconds(seconds);
    if (seconds >= this.longestSeconds) this.broke("long");
  }

  guard() {
    const { signal } = this.guards;
    const [track] = this.stream.getAudioTracks();
    track.addEventListener("ended", () => this.broke("ended"), { signal });
    track.addEventListener("mute", () => this.broke("mute"), { signal });
    // A call on an iPhone stops the audio itself ("interrupted") and tells nobody else.
    this.context.addEventListener("statechange", () => this.context.state !== "running" && this.broke("mute"), { signal });
    document.addEventListener("visibilitychange", () => document.hidden && this.broke("hidden"), { signal });
    window.addEventListener("pagehide", () => this.broke("hidden"), { signal });
    document.addEventListener("freeze", () => this.broke("hidden"), { signal });
    // What happened while the recorder was starting is not told again.
    if (track.readyState === "ended") this.broke("ended");
    else if (document.hidden) this.broke("hidden");
  }

  async broke(code) {
    if (this.ended) return;
    const stopped = this.stop();
    this.onTrouble(code);
    this.onEnded(await stopped);
  }

  stop() {
    this.ended ??= this.finish();
    return this.ended;
  }

  async finish() {
    const seconds = this.context.currentTime - this.startedAt;
    clearInterval(this.clock);
    for (const counter of this.counters) counter.stop();
    if (this.recorder.state !== "inactive") {
      // Its last piece comes before "stop"; a recorder that never says so has given what it has.
      await new Promise((stopped) => {
        this.recorder.onstop = stopped;
        setTimeout(stopped, STOP_WITHIN_MS);
        this.recorder.stop();
      });
    }
    try {
      await this.writing;
      return await finishTake(this.user, this.id, { seconds });
    } catch (error) {
      if (error instanceof EmptyTake) return null;
      return takeOf(this.user, this.id); // its pieces are there; the next visit finishes it
    } finally {
      this.release();
      await this.close();
    }
  }

  /** Safe to call again. */
  async close() {
    this.guards.abort();
    for (const counter of this.counters) counter.stop();
    clearInterval(this.clock);
    this.stopLevel?.();
    this.stopLevel = null;
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    if (this.context && this.context.state !== "closed") await this.context.close();
  }
}
