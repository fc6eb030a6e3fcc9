/* Ticking a whole section at once, and how many cards are ticked. */

import { say } from "../../bandroom/js/say.js";

const count = document.querySelector("[data-count]");
const all = [...document.querySelectorAll("#cards input[name=students]")];

function recount() {
  const ticked = all.filter((box) => box.checked).length;
  if (count) count.textContent = `${ticked} ticked, at most ${count.dataset.most} at once`;
  return ticked;
}

for (const group of document.querySelectorAll("[data-group]")) {
  const button = group.querySelector("[data-all]");
  const boxes = [...group.querySelectorAll("input[name=students]")];
  button.hidden = boxes.length < 2;
  button.addEventListener("click", () => {
    const tick = boxes.some((box) => !box.checked);
    for (const box of boxes) box.checked = tick;
    say(`${recount()} ticked`);
  });
}

document.querySelector("#cards")?.addEventListener("change", recount);
recount();
