/* A check-in on the day: the minutes of the student who is here, and the bars a student is stuck in. */

import { say } from "../../bandroom/js/say.js";

const LOOK = 1000;

const clock = document.querySelector("[data-clock]");

function startClock() {
  const { since, now, minutes } = clock.dataset;
  if (!since) return;
  // the server's clock counts: a laptop's own may be minutes off
  const offset = Date.parse(now) - Date.now();
  const words = clock.querySelector("#minute");
  const bars = [...clock.querySelectorAll("li")];
  const length = Number(minutes);
  let shown = 0;
  let wasOver = false;

  function tick() {
    const minute = Math.max(1, Math.floor((Date.now() + offset - Date.parse(since)) / 60_000) + 1);
    if (minute === shown) return;
    shown = minute;
    const over = minute - length;
    words.textContent = over > 0 ? `${over} minute${over === 1 ? "" : "s"} over` : `Minute ${minute} of ${length}`;
    bars.forEach((bar, place) => {
      bar.classList.toggle("is-past", place + 1 < minute);
      bar.classList.toggle("is-now", place + 1 === minute);
    });
    if (over > 0 && !wasOver) say("The time of this student is over.");
    wasOver = over > 0;
  }

  tick();
  setInterval(tick, LOOK);
}

if (clock) startClock();

for (const line of document.querySelectorAll("[data-bars]")) {
  for (const bar of line.dataset.bars.split(" ").filter(Boolean)) {
    line.querySelector(`.bar-light[data-bar="${Number(bar)}"]`)?.classList.add("is-on");
  }
}
