/* Choose a note of a line: why it sounds as it does, in words, and a thread to it from what decides. */

import { say } from "../../bandroom/js/say.js";
import { noteButtons, showThread } from "./note_buttons.js";

for (const line of document.querySelectorAll(".engraved[data-reading]")) begin(line);

function begin(line) {
  const told = new Map(JSON.parse(document.getElementById(line.dataset.reading).textContent).map((note) => [note.index, note]));
  const answer = line.querySelector("[data-answer]");
  answer.hidden = false;
  noteButtons(line, { buttons: ".spot", choose });

  function choose(index) {
    const note = told.get(index);
    for (const spot of line.querySelectorAll(".spot")) {
      spot.setAttribute("aria-pressed", String(spot.dataset.note === String(index)));
    }
    showThread(line, index);
    const head = document.createElement("b");
    head.textContent = `${note.place}: ${note.name}.`;
    answer.replaceChildren(head, ` ${note.words}`);
    say(`${note.place}: ${note.name}. ${note.words}`);
  }
}
