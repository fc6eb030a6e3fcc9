/* The marks of one student: which criterion the keys act on, and what happens when a step is chosen.

   startMarks({sheet, give, moveTo}) -> { show(scale, key), setCurrent(scale) }
     give(scale, level)  a step was chosen
     moveTo(judge)       the line that the keys act on changed */

import { bindKey } from "../../bandroom/js/keys.js";

export function startMarks({ sheet, give, moveTo }) {
  const scales = [...sheet.querySelectorAll("[data-scale]")];
  const radios = (scale) => [...scale.querySelectorAll('input[type="radio"]')];
  const isOpen = () => scales.some((scale) => !scale.matches(":disabled, :disabled *"));
  let current = null;

  function setCurrent(scale) {
    if (!scale || scale === current) return;
    current?.classList.remove("is-now");
    scale.classList.add("is-now");
    current = scale;
    moveTo(scale.closest("[data-line]"));
  }

  function choose(scale, radio) {
    radio.checked = true;
    give(scale, radio.value);
  }

  // the focus goes along, so that Tab and the arrow keys continue from where the keys are
  function goOn(from) {
    const next = scales[scales.indexOf(from) + 1];
    if (!next) return;
    const held = from.contains(document.activeElement);
    setCurrent(next);
    if (held) (radios(next).find((radio) => radio.checked) ?? radios(next)[0]).focus();
  }

  function press(key) {
    if (!isOpen() || !current) return false;
    const wanted = key === "0" || key === "-" ? "–" : key;
    const radio = radios(current).find((step) => step.parentElement.querySelector("b").textContent === wanted);
    if (!radio) return false;
    const scale = current;
    choose(scale, radio);
    goOn(scale);
    return true;
  }

  // Full levels for whatever has no mark yet: a mark that was given stays.
  function full(everyLine) {
    if (!isOpen() || !current) return false;
    const judge = current.closest("[data-line]");
    const meant = scales.filter((scale) => everyLine || judge.contains(scale));
    for (const scale of meant) {
      if (!radios(scale).some((radio) => radio.checked)) choose(scale, radios(scale).at(-1));
    }
    const rest = scales.slice(scales.indexOf(meant.at(-1)) + 1);
    setCurrent(rest[0] ?? meant.at(-1));
    return true;
  }

  sheet.addEventListener("change", (event) => {
    const scale = event.target.closest("[data-scale]");
    if (scale && event.target.type === "radio") give(scale, event.target.value);
  });
  sheet.addEventListener("focusin", (event) => setCurrent(event.target.closest("[data-scale]")));

  const top = Math.max(0, ...scales.map((scale) => radios(scale).length - 1));
  bindKey({
    keys: ["0", "-", ...Array.from({ length: Math.min(top, 9) }, (_, n) => String(n + 1))],
    shown: `1–${top}, 0`,
    says: "Give this level (0: not yet) and go to the next criterion",
    run: press,
  });
  bindKey({
    keys: ["F"],
    shown: "F",
    says: "Full levels for what has no mark in this line (Shift F: in every line)",
    run: (_, event) => full(event.shiftKey),
  });
  const firstEmpty = scales.find((scale) => !radios(scale).some((radio) => radio.checked));
  if (isOpen()) setCurrent(firstEmpty ?? scales[0]);

  return {
    setCurrent,
    firstOf: (judge) => scales.find((scale) => judge.contains(scale)),
    show(scale, key) {
      for (const radio of radios(scale)) radio.checked = radio.value === key;
    },
  };
}
