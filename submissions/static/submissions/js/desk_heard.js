/* What was heard in one line: the words of the note in the light, the ear's decision, and evidence that comes later.

   startHeard(judge, {decide, arrived}) -> { show(number), reload(number) }
     decide(value, pressed)  the ear spoke: "A:3:as_written", or "A:3:" to take it back
     arrived()               the line was drawn anew */

import { send } from "../../bandroom/js/csrf.js";
import { say } from "../../bandroom/js/say.js";

const LOOK_AGAIN = 4000;
const LETTERS = ["W", "P", "N"];

export function startHeard(judge, { decide, arrived }) {
  const heard = judge.querySelector("[data-heard]");
  const entry = (number) => heard.querySelector(`[data-notes] [data-note="${number}"]`);

  function show(number) {
    const note = entry(number);
    const words = heard.querySelector("[data-now]");
    const ear = heard.querySelector("[data-ear-now]");
    if (!note || !words) return;
    words.hidden = ear.hidden = false;
    words.replaceChildren(...note.querySelector("[data-says]").cloneNode(true).childNodes);
    const choice = note.querySelector("[data-ears] > *").cloneNode(true);
    for (const [index, button] of [...choice.querySelectorAll("button")].entries()) {
      const key = document.createElement("kbd");
      key.className = "key";
      key.textContent = LETTERS[index];
      button.append(" ", key);
    }
    ear.replaceChildren(choice);
  }

  async function reload(number = -1) {
    const query = new URLSearchParams({ take: judge.dataset.take ?? "" });
    if (number >= 0) query.set("note", number);
    const response = await send(`${judge.dataset.fragment}?${query}`, { method: "GET" });
    const open = [...heard.querySelectorAll("details")].map((details) => details.open);
    heard.innerHTML = await response.text();
    for (const [index, details] of [...heard.querySelectorAll("details")].entries()) details.open = open[index] ?? false;
    arrived();
  }

  async function lookAgain() {
    if (!heard.querySelector("[data-coming]")) return;
    if (!document.hidden) {
      try {
        await reload();
      } catch {
        // no connection: the page goes on without it
      }
      if (!heard.querySelector("[data-coming]")) {
        say(`Line ${judge.dataset.line}: what was heard is here.`);
        return;
      }
    }
    setTimeout(lookAgain, LOOK_AGAIN);
  }
  setTimeout(lookAgain, LOOK_AGAIN);

  heard.addEventListener("click", (event) => {
    const button = event.target.closest('button[name="ear"]');
    if (!button) return;
    event.preventDefault();
    decide(button.value, button);
  });

  return {
    show,
    reload,
    press(letter) {
      const button = heard.querySelectorAll("[data-ear-now] button")[LETTERS.indexOf(letter)];
      button?.click();
      return Boolean(button);
    },
    // the next note that is worth an ear, round to the first again
    nextWorth(after) {
      const numbers = [...heard.querySelectorAll("[data-notes] [data-worth]")].map((note) => Number(note.dataset.note));
      return numbers.find((number) => number > after) ?? numbers[0] ?? null;
    },
  };
}
