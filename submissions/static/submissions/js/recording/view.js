/* What the recorder's page shows: its state, its buttons, one headline, the level and the time.

   new View(root, words)
     .show(state)             one of BUTTONS; .state tells it
     .headline(title, hint)   .titled() puts the page's own title back
     .level({step, level})    of the microphone, .levelOff() where it is let go of
     .time(seconds, whole)    played so far, of about so many
     .choice(name)            which radio of that name is chosen
     .find(name), .button(name)   [data-name], [data-do="name"] */

import { clock, fill } from "../words.js";
import { STEPS } from "./meter.js";

const BUTTONS = {
  start: ["check", "start"],
  checking: ["start", "uncheck"],
  recording: ["stop", "over"],
  after: ["keep", "another", "again"],
  busy: [],
};

export class View {
  constructor(root, words) {
    this.root = root;
    this.words = words;
    this.bars = Array.from({ length: STEPS }, () => this.find("level").appendChild(document.createElement("i")));
  }

  find(name) {
    return this.root.querySelector(`[data-${name}]`);
  }

  button(name) {
    return document.querySelector(`[data-do="${name}"]`);
  }

  choice(name) {
    return this.root.querySelector(`input[name="${name}"]:checked`)?.value;
  }

  get state() {
    return this.root.dataset.state;
  }

  show(state) {
    this.root.dataset.state = state;
    for (const name of Object.values(BUTTONS).flat()) this.button(name).hidden = !BUTTONS[state].includes(name);
    this.find("choices").hidden = !["start", "checking"].includes(state);
    this.find("after").hidden = state !== "after";
    this.find("beats").hidden = state !== "recording" || this.choice("count") === "sound";
    this.find("level-box").hidden = ["start", "after"].includes(state);
    if (state !== "after") this.find("playback").pause();
  }

  /** Pressed before the page's script was there, a button would do nothing. */
  ready() {
    this.show("start");
    for (const name of BUTTONS.start) this.button(name).disabled = false;
  }

  headline(title, hint = "") {
    this.find("headline").textContent = title;
    this.find("hint").textContent = hint;
  }

  titled() {
    this.headline(this.find("headline").dataset.title);
  }

  level({ step, level, peak }) {
    this.bars.forEach((bar, index) => bar.classList.toggle("is-on", index < step));
    if (this.root.dataset.level !== level) {
      const says = this.words.level[level];
      this.root.dataset.level = level;
      this.find("level-says").textContent = says;
      this.find("level").setAttribute("aria-label", fill(this.words.levelLabel, { level: says }));
    }
    this.root.dataset.peak = peak.toFixed(3);
  }

  levelOff() {
    delete this.root.dataset.level;
    this.bars.forEach((bar) => bar.classList.remove("is-on"));
    this.find("level-says").textContent = this.words.level.off;
  }

  noTime() {
    this.find("time").textContent = "";
    this.root.dataset.seconds = 0;
  }

  time(seconds, whole) {
    this.find("time").textContent = fill(this.words.time, { now: clock(seconds), whole: clock(whole) });
    this.find("kept").textContent = fill(this.words.keptSoFar, { time: clock(Math.floor(seconds)) });
    this.root.dataset.seconds = Math.floor(seconds);
  }
}
