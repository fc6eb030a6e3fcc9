/* How fast each line is to be played, and so when: a line that may be slower or faster than asked has a slider.

   new Tempos(root, lines)
     .timeline   of timeline.js, as the sliders stand; .seconds of all of it
     .chosen     {A: 80, …}, in the beats that a metronome counts */

import { timelineOf } from "./timeline.js";

export class Tempos {
  constructor(root, lines) {
    this.lines = lines;
    this.timeline = timelineOf(lines);
    for (const slider of root.querySelectorAll("[data-tempo]")) {
      slider.addEventListener("input", () => this.choose(slider));
      this.choose(slider); // a browser may have kept where it stood
    }
  }

  choose(slider) {
    const line = this.lines.find((one) => one.label === slider.dataset.tempo);
    line.tempo = Number(slider.value) * line.perQuarter;
    slider.nextElementSibling.textContent = slider.value;
    this.timeline = timelineOf(this.lines);
  }

  get chosen() {
    return Object.fromEntries(this.lines.map((line) => [line.label, Math.round(line.tempo / line.perQuarter)]));
  }

  get seconds() {
    return this.timeline.at(-1).ends;
  }
}
