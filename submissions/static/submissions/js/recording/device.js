/* The microphone of this page: opened afresh for every check and every take, since some phones hand an old one back dead.

   new Device({view, trouble, words, options})   `options()` are those of a TakeRecorder, less what is told here
     .open() -> Promise<boolean>   a new `.recorder`; where there is none, the page tells why and what to do
     .close()
     .check(), .checkOver()        how loud it is, and what to do about it, before anything is recorded */

import { say } from "../../../bandroom/js/say.js";
import { NoAnswer } from "../answer.js";
import { MicrophoneError } from "./microphone.js";
import { TakeRecorder } from "./take_recorder.js";

// Sound that is looked for this long before the page tells how to be heard.
const HEARD_WITHIN_MS = 4000;

export class Device {
  constructor({ view, trouble, words, options }) {
    Object.assign(this, { view, trouble, words, options, recorder: null, advice: null, checkedSince: 0 });
  }

  async open() {
    await this.close();
    const opened = new TakeRecorder({
      ...this.options(),
      onAsked: () => this.trouble.help("asked"),
      onLevel: (level) => this.hear(level),
    });
    try {
      await opened.open();
    } catch (error) {
      const known = error instanceof MicrophoneError || error instanceof NoAnswer;
      if (!known) console.error(error);
      this.trouble.clear();
      this.trouble.help(error instanceof NoAnswer ? "silent" : (error.code ?? "failed"));
      return false;
    }
    this.recorder = opened;
    this.trouble.clear();
    this.trouble.help(null);
    return true;
  }

  async close() {
    await this.recorder?.close();
    this.recorder = null;
  }

  check() {
    this.advice = null;
    this.checkedSince = performance.now();
    this.view.headline(this.words.playFirstNote, this.words.watchLevel);
    this.view.show("checking");
  }

  async checkOver() {
    await this.close();
    this.view.levelOff();
    this.view.show("start");
  }

  hear(level) {
    this.view.level(level);
    if (this.view.state === "checking") this.advise(level.level);
  }

  /** A student's ear is judged by what came through in the check, not by one moment of it. */
  advise(level) {
    const { view, trouble, words } = this;
    if (level === "good" && this.advice !== "good") {
      view.headline(words.heard, words.pressStart);
      say(words.heard);
      trouble.help(null);
      this.advice = "good";
    } else if (level === "loud" && this.advice !== "loud") {
      trouble.help("loud");
      say(words.level.loud);
      this.advice = "loud";
    } else if (!this.advice && ["none", "quiet"].includes(level) && this.isUnheard) {
      trouble.help("quiet");
      say(words.level.quiet);
      this.advice = "quiet";
    }
  }

  get isUnheard() {
    return performance.now() - this.checkedSince > HEARD_WITHIN_MS;
  }
}
