/* The count-off and what follows it, beat by beat: seen, heard or both, as the student chose.

   new CountOff({view, sheet, words})
     .clicks              what is heard of it: "none", "count" (the count-off alone) or "all"
     .onCount(part, n)    the count's nth word
     .onPlay(part, beat)  a beat of the line */

import { fill } from "../words.js";

export class CountOff {
  constructor({ view, sheet, words }) {
    Object.assign(this, { view, sheet, words });
    for (const radio of view.root.querySelectorAll('input[name="count"]')) {
      radio.addEventListener("change", () => this.offerClicks());
    }
    this.offerClicks();
  }

  offerClicks() {
    this.view.find("clicks").hidden = this.view.choice("count") === "sight";
  }

  get clicks() {
    if (this.view.choice("count") === "sight") return "none";
    return this.view.root.querySelector('input[name="clicks"]').checked ? "all" : "count";
  }

  onCount(part, index) {
    const { words } = this;
    this.sheet.show(part.line.label);
    this.draw(part.words, index);
    this.view.headline(words.getReady, index === part.words.length - 1 ? words.breathe : words.countsThenPlay);
  }

  onPlay({ line }, beat) {
    const inBar = Math.floor(beat % line.beatsInBar);
    const bar = Math.floor(beat / line.beatsInBar);
    this.draw(Array.from({ length: line.beatsInBar }, (_, n) => String(n + 1)), inBar);
    this.sheet.light(line.label, bar, beat);
    if (inBar === 0) this.view.headline(fill(this.words.playing, { bar: bar + 1, bars: line.bars }), this.words.goOn);
  }

  draw(counts, now) {
    const cells = this.view.find("beats");
    if (cells.children.length !== counts.length || counts.some((word, n) => cells.children[n].textContent !== word)) {
      cells.replaceChildren(...counts.map((word) => Object.assign(document.createElement("li"), { textContent: word })));
    }
    [...cells.children].forEach((cell, index) => cell.classList.toggle("is-now", index === now));
  }
}
