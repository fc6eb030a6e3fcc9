/* The strip of steps tells of takes that only this phone has: the server cannot know of them. */

import { onChange, takesOf } from "./store.js";
import { fill } from "./words.js";

const WAITING = ["kept", "queued"];
const strip = document.querySelector("[data-strip]");

if (strip) {
  const user = Number(strip.dataset.user);
  const draw = async () => tell(await takesOf(user, Number(strip.dataset.assignment)));
  onChange(() => draw().catch(console.info));
  draw().catch(console.info); // a browser without storage has no takes to tell of
}

function tell(takes) {
  for (const cell of strip.querySelectorAll('[data-cell^="record-"]')) {
    const label = cell.dataset.cell.slice("record-".length);
    const here = takes.filter((take) => take.lines.includes(label) && WAITING.includes(take.state));
    const says = cell.querySelector(".steps__says");
    cell.dataset.says ??= says.textContent;
    says.textContent = here.length ? wordsFor(here) : cell.dataset.says;
  }
}

function wordsFor(here) {
  if (here.some((take) => take.state === "queued")) return strip.dataset.onItsWay;
  return here.length === 1 ? strip.dataset.one : fill(strip.dataset.many, { count: here.length });
}
