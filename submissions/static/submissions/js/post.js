/* The page that posts an exercise: tick a whole period at once; show own times only for ticked sections. */

const form = document.querySelector("#post");
const ticks = [...form.querySelectorAll('input[name="sections"]')];

for (const period of form.querySelectorAll("[data-period]")) {
  const button = period.querySelector("[data-tick-all]");
  if (!button) continue;
  const boxes = [...period.querySelectorAll('input[name="sections"]')];
  const name = () => {
    button.textContent = boxes.every((box) => box.checked) ? "None of it" : "All of it";
  };
  button.hidden = false;
  button.addEventListener("click", () => {
    const on = !boxes.every((box) => box.checked);
    for (const box of boxes) box.checked = on;
    boxes[0].dispatchEvent(new Event("change", { bubbles: true }));
  });
  period.addEventListener("change", name);
  name();
}

function showOwnTimes() {
  const chosen = new Set(ticks.filter((box) => box.checked).map((box) => box.value));
  for (const own of form.querySelectorAll("[data-own-times]")) {
    own.hidden = !chosen.has(own.dataset.ownTimes);
  }
}

form.addEventListener("change", showOwnTimes);
showOwnTimes();
