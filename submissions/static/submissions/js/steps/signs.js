/* Find the altered notes: a tap on a peg is answered at once with its reason, and kept on the school's server. */

import { say } from "../../../bandroom/js/say.js";
import { send } from "../../../bandroom/js/csrf.js";
import { noteButtons, showThread } from "../../../exercises/js/note_buttons.js";
import { fill } from "../words.js";

const page = document.querySelector("[data-step-page]");
const source = document.getElementById("page-data");
if (source) begin(JSON.parse(source.textContent));

function begin(line) {
  const { words } = line;
  const find = (name) => document.querySelector(`[data-${name}]`);
  const rail = find("rail");
  const tapped = new Set(line.tapped);
  const shown = new Set(line.shown);
  const notes = new Map(Object.entries(line.notes).map(([index, told]) => [Number(index), told]));
  const unsent = { note: new Set(), shown: new Set() };
  let sending = false;

  find("ticks").open = false;
  noteButtons(rail, { buttons: ".peg", choose: tap });
  for (const box of document.querySelectorAll('#ticks input[name="note"]')) {
    box.addEventListener("change", () => tap(Number(box.value)));
  }
  find("show-one").hidden = false;
  find("show-one").addEventListener("click", showOne);
  window.addEventListener("online", keep);
  count();

  function tap(index) {
    const told = notes.get(index);
    answer(told, told.altered ? fill(words.thisOne, { note: told.name }) : words.notThisOne);
    light(index);
    if (tapped.has(index) || shown.has(index)) return;
    tapped.add(index);
    unsent.note.add(index);
    list(index, told.altered ? `${told.name}.` : words.listedNotThisOne, told);
    if (told.altered) press(index, told.sign);
    tick(index);
    count();
    keep();
  }

  function showOne() {
    const found = [...notes].find(([index, told]) => wanted(told) && !tapped.has(index) && !shown.has(index));
    if (!found) return;
    const [index, told] = found;
    shown.add(index);
    unsent.shown.add(index);
    answer(told, fill(words.hereIsOne, { note: told.name }));
    light(index);
    list(index, `${told.name}. ${words.shownToYou}`, told);
    press(index, told.sign);
    count();
    keep();
  }

  function answer(told, says) {
    find("answer").hidden = false;
    find("answer-place").textContent = told.place;
    find("answer-name").textContent = says;
    find("answer-words").textContent = told.words;
    say(`${told.place}. ${says}. ${told.words}`);
  }

  function press(index, sign) {
    for (const peg of rail.querySelectorAll(`.peg[data-note="${index}"]`)) {
      peg.setAttribute("aria-pressed", "true");
      peg.querySelector("text").textContent = sign;
    }
  }

  function light(index) {
    showThread(rail, index);
    for (const peg of rail.querySelectorAll(".peg.is-now")) peg.classList.remove("is-now");
    for (const peg of rail.querySelectorAll(`.peg[data-note="${index}"]`)) peg.classList.add("is-now");
  }

  function list(index, says, told) {
    const item = document.createElement("li");
    item.dataset.answered = index;
    const head = document.createElement("b");
    head.textContent = `${told.place}: ${says}`;
    item.append(head, ` ${told.words}`);
    find("so-far").prepend(item);
    find("none").hidden = true;
    find("over").hidden = false;
  }

  function tick(index) {
    const box = document.querySelector(`#ticks input[value="${index}"]`);
    if (!box) return;
    box.checked = true;
    box.disabled = true;
  }

  function count() {
    const all = [...notes];
    const right = all.filter(([index, told]) => told.altered && tapped.has(index)).length;
    const extra = all.filter(([index, told]) => !told.altered && tapped.has(index)).length;
    const left = all.filter(([index, told]) => wanted(told) && !tapped.has(index) && !shown.has(index)).length;
    find("count").textContent = fill(words.count, { found: right, left });
    const plain = extra ? ` ${extra === 1 ? words.onePlain : fill(words.plain, { count: extra })}` : "";
    find("count-more").textContent = (left ? words.takeYourTime : words.allKnown) + plain;
    find("show-one").disabled = left === 0;
  }

  async function keep() {
    if (sending || (!unsent.note.size && !unsent.shown.size)) return;
    sending = true;
    const going = { note: [...unsent.note], shown: [...unsent.shown] };
    const body = new URLSearchParams({ line: line.label });
    for (const [name, indexes] of Object.entries(going)) for (const index of indexes) body.append(name, index);
    let kept = false;
    try {
      await send(page.dataset.do, { body, headers: { "X-Requested-With": "bandroom" } });
      for (const [name, indexes] of Object.entries(going)) for (const index of indexes) unsent[name].delete(index);
      kept = true;
    } catch {
      // offline: what is not sent goes with the next tap, or when the network is back
    }
    sending = false;
    page.dataset.kept = String(tapped.size + shown.size - unsent.note.size - unsent.shown.size);
    if (kept) keep();
  }
}

/* A note held over by a tie is the same sound as the one before: it need not be found. */
function wanted(told) {
  return told.altered && !told.tie;
}
