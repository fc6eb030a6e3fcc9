/* What went wrong, in a sentence, and the ways out of it in this browser.

   new Trouble(view, words)
     .tell(code, values)   the sentence of `words.trouble`; .clear()
     .help(code)           what `words.microphone` says and the ways out; of a code without words, or null, none */

import { fill } from "../words.js";
import { browserName } from "./microphone.js";

export class Trouble {
  constructor(view, words) {
    this.view = view;
    this.words = words;
  }

  tell(code, values = {}) {
    this.put(fill(this.words.trouble[code], values));
  }

  clear() {
    this.put("");
  }

  put(sentence) {
    const place = this.view.find("trouble");
    place.hidden = !sentence;
    place.textContent = sentence;
  }

  help(code) {
    const known = this.words.microphone[code];
    const ways = known ? [...(known.ways.all ?? []), ...(known.ways[browserName()] ?? [])] : [];
    const items = ways.map((way) => Object.assign(document.createElement("li"), { textContent: way }));
    this.view.find("help").hidden = !known;
    this.view.find("help-says").textContent = known?.says ?? "";
    this.view.find("help-ways").replaceChildren(...items);
  }
}
