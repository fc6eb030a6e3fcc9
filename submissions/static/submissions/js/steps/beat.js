/* Saying, fingering and playing a line with the beat: one page, one line, one player. */

import { wakeAudio } from "../answer.js";
import { send } from "../../../bandroom/js/csrf.js";
import { LinePlayer } from "./line_player.js";
import { planPass } from "./plan.js";
import { fill } from "../words.js";
import { tone } from "./tone.js";

const page = document.querySelector("[data-step-page]");
const source = document.getElementById("page-data");
if (source) begin(JSON.parse(source.textContent));

function begin(line) {
  const { words } = line;
  const find = (name) => document.querySelector(`[data-${name}]`);
  const start = find("start");
  const idle = start.textContent;
  const slider = find("my-tempo");
  let context = null;
  let player = null;

  const tempo = () => Number(slider.value);
  const checked = (name, otherwise) => find(name)?.checked ?? otherwise;

  for (const pick of document.querySelectorAll('input[name="tempo"]')) {
    pick.addEventListener("change", () => showTempo(Number(pick.value)));
  }
  slider.addEventListener("input", () => showTempo(tempo()));
  find("from")?.addEventListener("change", () => keepOrder("from"));
  find("to")?.addEventListener("change", () => keepOrder("to"));
  for (const row of document.querySelectorAll("[data-row]")) row.addEventListener("click", () => toggleRow(row));
  if (find("rows")) find("rows").hidden = false;
  start.addEventListener("click", () => (player ? stop() : play()));
  start.disabled = false;
  const firstNote = find("first-note");
  if (firstNote) {
    firstNote.addEventListener("click", hearFirstNote);
    firstNote.disabled = false;
  }
  // a page in the background has slow timers: better silent than late
  document.addEventListener("visibilitychange", () => document.hidden && stop());
  window.addEventListener("pagehide", stop);

  function showTempo(value) {
    slider.value = value;
    find("tempo-says").textContent = value;
    for (const pick of document.querySelectorAll('input[name="tempo"]')) pick.checked = Number(pick.value) === value;
  }

  function keepOrder(changed) {
    const from = find("from");
    const to = find("to");
    if (Number(from.value) <= Number(to.value)) return;
    if (changed === "from") to.value = from.value;
    else from.value = to.value;
  }

  function toggleRow(row) {
    const shown = row.getAttribute("aria-pressed") !== "true";
    row.setAttribute("aria-pressed", String(shown));
    find("sheet").classList.toggle(`hide-${row.dataset.row}`, !shown);
  }

  async function ready() {
    context ??= new AudioContext();
    await wakeAudio(context);
  }

  async function play() {
    start.disabled = true;
    try {
      await ready();
    } catch {
      find("beat-says").textContent = words.noSound;
      return;
    } finally {
      start.disabled = false;
    }
    const bars = line.playback.bars;
    let passes = 0;
    const settings = () => ({
      tempo: tempo(),
      from: Number(find("from")?.value ?? bars[0].bar),
      to: Number(find("to")?.value ?? bars.at(-1).bar),
      clicks: checked("clicks", true),
      tones: checked("tones", false),
    });
    const played = settings();
    player = new LinePlayer(context, { kind: line.playback.tone, onLight: light, onPassed: passed, onEnd: stop });
    player.start(() => {
      if (passes > 0 && !checked("again", false)) return null;
      passes += 1;
      return planPass(line, settings());
    });
    start.textContent = words.stop;
    find("beat-now").hidden = false;
    find("beat-says").textContent = "";

    function passed() {
      const whole = played.from === bars[0].bar && played.to === bars.at(-1).bar;
      page.dataset.latest = player.latest.toFixed(4);
      if (whole) keep(played.tempo);
    }
  }

  function stop() {
    if (!player) return;
    player.stop();
    player = null;
    start.textContent = idle;
    find("beat-now").hidden = true;
    dark();
    for (const card of document.querySelectorAll(".finger-card.is-now")) card.classList.remove("is-now");
  }

  async function keep(at) {
    const body = new URLSearchParams({ line: line.label, tempo: String(at) });
    try {
      await send(page.dataset.do, { body, headers: { "X-Requested-With": "bandroom" } });
      find("beat-says").textContent = fill(words.done, { line: line.label, tempo: at });
    } catch {
      find("beat-says").textContent = words.notSaved;
    }
  }

  function light({ count, counts, word, note, breathe }) {
    find("beats").replaceChildren(...cells(count, counts, word));
    const [printed, said] = note === null ? [word, ""] : (line.names[note] ?? ["", ""]);
    find("now-name").textContent = printed;
    find("now-words").textContent = note === null ? (breathe ? words.breathe : words.countOff) : [said, line.places[note]].filter(Boolean).join(", ");
    dark();
    if (note === null) return;
    for (const lit of document.querySelectorAll(`[data-light="${note}"]`)) {
      lit.classList.add("is-on");
      if (lit.getClientRects().length) follow(lit);
    }
    finger(note);
  }

  function finger(note) {
    const card = document.querySelector(`[data-finger="${note}"]`);
    if (!card || card.classList.contains("is-now")) return;
    for (const other of document.querySelectorAll(".finger-card.is-now")) other.classList.remove("is-now");
    card.classList.add("is-now");
    card.parentElement.scrollLeft = card.offsetLeft - card.parentElement.offsetLeft;
  }

  async function hearFirstNote() {
    await ready();
    const [first] = line.playback.sounds;
    tone(context, { at: context.currentTime + 0.05, seconds: 1.6, hz: first.hertz, kind: line.playback.tone });
  }
}

function cells(now, counts, word) {
  return Array.from({ length: counts }, (_, index) => {
    const cell = document.createElement("li");
    cell.textContent = index === now && word ? word : String(index + 1);
    cell.classList.toggle("is-now", index === now);
    return cell;
  });
}

function dark() {
  for (const lit of document.querySelectorAll(".note-light.is-on")) lit.classList.remove("is-on");
}

/* Bring the system that is played into view when it is under the dock or above the page. */
function follow(lit) {
  const box = lit.getBoundingClientRect();
  const dock = document.querySelector(".dock").getBoundingClientRect();
  const low = getComputedStyle(document.querySelector(".dock")).position === "sticky" ? dock.top : innerHeight;
  if (box.top >= 0 && box.bottom <= low) return;
  scrollBy({ top: box.top - 24, behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
}
