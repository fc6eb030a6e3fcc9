/* A part of a page that shows what its form holds before it is sent.

   <button formaction="…" name="do" value="show" data-shows="#planned">   in a form
   At once, at a press and a moment after each change the form goes to the button's own action; of the page that comes
   back the part of the same id takes the place of ours. The newest question wins. Without script the button opens that page. */

import { send } from "./csrf.js";
import { say } from "./say.js";

const WAIT = 300; // ms after the last change: one question for several ticks in a row

for (const button of document.querySelectorAll("[data-shows]")) {
  let waiting = 0;
  let asking = null;

  const show = async () => {
    clearTimeout(waiting);
    asking?.abort();
    asking = new AbortController();
    try {
      const answer = await send(button.formAction, { body: new FormData(button.form, button), signal: asking.signal });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const part = page.querySelector(button.dataset.shows);
      if (part) document.querySelector(button.dataset.shows).replaceChildren(...part.childNodes);
    } catch (error) {
      if (error.kind !== "stopped") say(error.message);
    }
  };

  button.addEventListener("click", (event) => {
    event.preventDefault();
    show();
  });
  button.form.addEventListener("change", () => {
    clearTimeout(waiting);
    waiting = setTimeout(show, WAIT);
  });
  show();
}
