/* Listening back over the part. Beat 1 is known in the recording, so its every moment is a place in the part, and the
   light follows the ear.

   new ListeningBack({view, sheet, words})
     .open(take, {recorder, timeline})   ready to be played; rejects where this phone cannot read the take
     Where beat 1 stands is known either way: by the chirp, or else by the page's own clock. */

import { blobOf } from "../store.js";
import { findChirp } from "./chirp.js";
import { lookInto } from "./found.js";
import { placeAt } from "./timeline.js";

export class ListeningBack {
  constructor({ view, sheet, words }) {
    Object.assign(this, { view, sheet, words, firstCount: 0, timeline: [] });
    this.playback = view.find("playback");
    this.playback.addEventListener("play", () => this.soon());
    this.playback.addEventListener("seeked", () => this.follow());
    this.playback.addEventListener("ended", () => sheet.clear());
  }

  async open(take, { recorder, timeline }) {
    this.timeline = timeline;
    let found = null;
    try {
      const blob = await blobOf(take);
      URL.revokeObjectURL(this.playback.src);
      this.playback.src = URL.createObjectURL(blob);
      found = await lookInto(blob);
    } finally {
      this.place(found, recorder);
    }
  }

  place(found, { chirpSeconds, leadSeconds }) {
    const heardAt = found?.samples && findChirp(found.samples, found.rate, { around: chirpSeconds });
    const [first] = this.timeline;
    this.firstCount = (heardAt ?? chirpSeconds) + leadSeconds - first.plays;
    this.view.root.dataset.beatOne = (this.firstCount + first.plays).toFixed(4);
    this.view.find("found").textContent = this.words.found[found?.level] ?? "";
  }

  soon() {
    requestAnimationFrame(() => this.follow());
  }

  follow() {
    const { playback, sheet } = this;
    const place = placeAt(this.timeline, playback.currentTime - this.firstCount);
    if (place) sheet.light(place.line.label, Math.floor(place.beat / place.line.beatsInBar), place.beat);
    else sheet.clear();
    if (!playback.paused) this.soon();
  }
}
