/* The notes drawn while they are typed, and the way from a fault to its place in the text. */

import { send } from "../../bandroom/js/csrf.js";
import { say } from "../../bandroom/js/say.js";

const WAIT = 350; // ms after the last key: long enough to finish a note name, short enough to feel at once

const form = document.querySelector("form[data-look]");
let waiting = 0;
let asking = null;
let typed = false;

function lookSoon() {
  clearTimeout(waiting);
  waiting = setTimeout(look, WAIT);
}

async function look() {
  asking?.abort();
  asking = new AbortController();
  const sent = new FormData(form);
  sent.delete("file");
  try {
    const response = await send(form.dataset.look, { body: sent, signal: asking.signal });
    show(await response.text());
  } catch (error) {
    if (error.kind !== "stopped") say(error.message);
  }
}

function show(html) {
  const answer = new DOMParser().parseFromString(html, "text/html");
  for (const line of answer.querySelectorAll("[data-looked]")) {
    const place = document.getElementById(`looked-${line.dataset.looked}`);
    place?.replaceChildren(document.adoptNode(line));
  }
  offerWays();
}

/* A button that needs a script is hidden until there is one. */
function offerWays() {
  for (const button of form.querySelectorAll("[data-go][hidden]")) button.hidden = false;
}

form.addEventListener("click", (event) => {
  const button = event.target.closest("[data-go]");
  if (!button) return;
  const box = form.elements[button.dataset.go];
  const from = Number(button.dataset.from);
  box.focus();
  box.setSelectionRange(from, from + Number(button.dataset.length));
});

form.addEventListener("input", (event) => {
  if (event.target.type === "file") return;
  typed = true;
  lookSoon();
});

/* What is typed is not lost by a stray click on a link. */
window.addEventListener("beforeunload", (event) => {
  if (typed) event.preventDefault();
});
form.addEventListener("submit", () => {
  typed = false;
});

for (const button of form.querySelectorAll("[data-needless]")) button.hidden = true;
offerWays();
