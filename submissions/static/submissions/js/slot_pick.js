/* Picking a time: the dock says what is chosen and what the button will do. Without this the form works all the same. */

import { fill } from "./words.js";

const form = document.querySelector("#pick");
const words = document.querySelector("[data-pick-words]");
const button = document.querySelector("[data-pick-button]");

function show() {
  const chosen = form.querySelector('input[name="slot"]:checked');
  button.disabled = !chosen;
  if (!chosen) return;
  const bold = document.createElement("b");
  bold.textContent = `${chosen.dataset.words}.`;
  const rest = words.querySelector(".quiet");
  words.replaceChildren(bold, " ", rest);
  button.textContent = fill(button.dataset.pickButton, { time: chosen.dataset.clock });
}

if (form) {
  form.addEventListener("change", show);
  // a browser may fill the choice in again after going back
  addEventListener("pageshow", show);
  show();
}
