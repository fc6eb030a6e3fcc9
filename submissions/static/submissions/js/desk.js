/* One student on the desk. Without this module the page is a plain form; with it marks are saved as they are given,
   the take plays under its notes, and everything has a key. */

import { send } from "../../bandroom/js/csrf.js";
import { bindKey } from "../../bandroom/js/keys.js";
import { say } from "../../bandroom/js/say.js";
import { startHeard } from "./desk_heard.js";
import { startMarks } from "./desk_marks.js";
import { createOutbox } from "./desk_outbox.js";
import { slower, startPlayer } from "./desk_player.js";

const TYPING_REST = 700;

const sheet = document.querySelector("#sheet");
const name = sheet.dataset.sheet;
const attempt = sheet.elements.attempt.value;
const judges = [...sheet.querySelectorAll("[data-line]")];
const players = new Map();
const listeners = new Map();
let now = judges[0];

/* ── Saving ── */

const lost = document.createElement("p");
lost.className = "desk__lost note note--warning";
lost.setAttribute("role", "status");
lost.hidden = true;
document.body.append(lost);

const outbox = createOutbox((id, state, answer = {}) => {
  const own = id.startsWith(`${name}:`) ? id.slice(name.length + 1) : "";
  if (own.startsWith("mark-")) showMark(sheet.querySelector(`[data-scale="${own}"]`), state, answer);
  else if (own === "note") showNote(state, answer);
  else if (own.startsWith("ear:")) showEar(own, state, answer);
  const waiting = outbox.waiting();
  if (state === "kept") {
    const things = waiting === 1 ? "1 thing is" : `${waiting} things are`;
    lost.textContent = `${answer.sentence} (${things} not saved yet.)`;
  }
  lost.hidden = waiting === 0 || (lost.hidden && state !== "kept");
});

function showMark(scale, state, answer) {
  const said = scale.querySelector("[data-said]");
  scale.classList.toggle("is-unsaved", state === "kept" || state === "refused");
  if (state === "saved") {
    seenOf(scale).value = answer.saved;
    said.textContent = "saved";
  } else if (state === "kept") {
    said.textContent = "not saved yet";
  } else if (state === "refused") {
    if (answer.kind === "changed") {
      seenOf(scale).value = answer.now;
      marks.show(scale, answer.now);
    }
    said.textContent = answer.kind === "changed" ? "changed by somebody else" : "not saved";
    problem(answer.sentence);
  } else {
    said.textContent = "";
  }
}

function seenOf(scale) {
  return sheet.elements[scale.dataset.scale.replace("mark-", "seen-")];
}

function give(scale, level) {
  outbox.put(`${name}:${scale.dataset.scale}`, sheet.dataset.mark, {
    attempt,
    line: scale.closest("[data-line]").dataset.line,
    criterion: scale.dataset.criterion,
    level,
    seen: seenOf(scale).value,
  });
}

/* ── Lines, marks, evidence ── */

function moveTo(judge) {
  if (judge === now && judge.classList.contains("is-now")) return;
  const played = players.get(now)?.isPlaying;
  for (const one of judges) {
    one.classList.toggle("is-now", one === judge);
    const key = one.querySelector("[data-play-key]");
    if (key) key.textContent = one === judge ? "Space" : "B";
    if (one !== judge) players.get(one)?.pause();
  }
  for (const pick of sheet.querySelectorAll("[data-pick]")) {
    pick.setAttribute("aria-pressed", String(pick.dataset.pick === judge.dataset.line));
  }
  now = judge;
  if (played) players.get(judge)?.toggle();
}

for (const judge of judges) {
  const heard = startHeard(judge, {
    decide(value) {
      const [label, number] = value.split(":");
      outbox.put(`${name}:ear:${label}:${number}`, sheet.dataset.ear, { ear: value, [`take-${label}`]: judge.dataset.take ?? "" });
    },
    arrived: () => players.get(judge)?.again(),
  });
  listeners.set(judge, heard);
  players.set(judge, startPlayer(judge, { chose: (number) => heard.show(number) }));
  judge.addEventListener("pointerdown", () => moveTo(judge));
}

function showEar(own, state, answer) {
  const [, label, number] = own.split(":");
  const judge = judges.find((one) => one.dataset.line === label);
  if (state === "refused") problem(answer.sentence);
  if (state === "saved") {
    listeners
      .get(judge)
      .reload(Number(number))
      .catch(() => say("Your ear’s decision is saved; the drawing follows when the page is opened again."));
  }
}

const marks = startMarks({ sheet, give, moveTo });

sheet.classList.add("is-single");
const picks = sheet.querySelector(".stand__pick");
if (picks) picks.hidden = false;
sheet.addEventListener("click", (event) => {
  const pick = event.target.closest("[data-pick]");
  if (pick) turnTo(judges.find((judge) => judge.dataset.line === pick.dataset.pick));
});

function turnTo(judge) {
  const first = marks.firstOf(judge);
  if (first) marks.setCurrent(first);
  moveTo(judge);
}

/* ── Keys ── */

const player = () => players.get(now);
// an arrow key belongs to a radio or a chair while that has the focus
const isFree = (event) => !event.target.closest?.('input, [data-rove], summary');

bindKey({ keys: ["Space"], says: "Play or pause", shown: "Space", run: () => player().toggle() });
bindKey({
  keys: ["B"],
  says: "The other line",
  shown: "B",
  run: () => turnTo(judges[(judges.indexOf(now) + 1) % judges.length]),
});
bindKey({ keys: ["S"], says: "Slower: three quarters, half, full speed", shown: "S", run: () => say(slower(judges)) });
bindKey({
  keys: ["ArrowLeft", "ArrowRight"],
  shown: "← →",
  says: "Note before, note after (with Shift: bar)",
  run(key, event) {
    if (!isFree(event)) return false;
    player()[event.shiftKey ? "stepBar" : "step"](key === "ArrowLeft" ? -1 : 1);
    return true;
  },
});
bindKey({ keys: [",", "."], shown: ", .", says: "Note before, note after, wherever the focus is", run: (key) => player().step(key === "," ? -1 : 1) });
bindKey({
  keys: ["U"],
  shown: "U",
  says: "Next note that is unsure or not as written",
  run() {
    const number = listeners.get(now).nextWorth(player().chosen);
    if (number === null) return false;
    player().choose(number);
    return true;
  },
});
bindKey({
  keys: ["W", "P", "N"],
  shown: "W P N",
  says: "Your ear on this note: as written, other pitch, not heard",
  run: (key) => listeners.get(now).press(key),
});
sheet.addEventListener("click", (event) => {
  if (event.target.closest("[data-speed]")) say(slower(judges));
});

/* ── The note ── */

const parts = [...sheet.querySelectorAll("[data-note-part]")];
const noteSaid = sheet.querySelector("[data-note-said]");

function keepNote(delay) {
  const words = Object.fromEntries(parts.map((part) => [part.name, part.value]));
  outbox.put(`${name}:note`, sheet.dataset.note, { attempt, ...words, seen: sheet.elements["note-seen"].value }, { delay });
}

function showNote(state, answer) {
  if (state === "saved") sheet.elements["note-seen"].value = answer.saved;
  const words = { saved: "note kept", kept: "note not kept yet", refused: "note not kept", sending: "" };
  if (noteSaid) noteSaid.textContent = words[state];
  if (state === "refused") {
    if (answer.kind === "changed") sheet.elements["note-seen"].value = answer.now;
    problem(answer.sentence);
  }
}

for (const part of parts) {
  part.addEventListener("input", () => keepNote(TYPING_REST));
  part.addEventListener("change", () => keepNote(0));
  part.addEventListener("keydown", (event) => {
    if (event.key === "Escape") part.blur();
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
      event.preventDefault();
      sheet.querySelector('.closing [value="return"]')?.click();
    }
  });
}
for (const bank of sheet.querySelectorAll("[data-bank]")) bank.hidden = false;
sheet.addEventListener("click", (event) => {
  const phrase = event.target.closest("[data-phrase]");
  if (!phrase) return;
  const box = document.getElementById(phrase.dataset.into);
  const joint = box.value && !/\s$/.test(box.value) ? " " : "";
  box.value += joint + phrase.dataset.phrase;
  box.focus();
  keepNote(0);
});

/* ── What an earlier visit could not save ── */

for (const [id, fields] of outbox.entries(`${name}:`)) {
  const own = id.slice(name.length + 1);
  if (own === "note") for (const part of parts) part.value = fields[part.name] ?? part.value;
  const scale = own.startsWith("mark-") && sheet.querySelector(`[data-scale="${own}"]`);
  if (scale) {
    marks.show(scale, fields.level);
    scale.classList.add("is-unsaved");
  }
}
outbox.flushAll();

/* ── Back to the student ── */

function problem(sentence, button) {
  let box = sheet.querySelector(".desk__problem");
  if (!box) {
    box = document.createElement("div");
    box.className = "desk__problem note note--error";
    box.setAttribute("role", "alert");
    sheet.querySelector(".closing, .desk__returned")?.before(box);
  }
  box.replaceChildren(Object.assign(document.createElement("p"), { textContent: sentence }));
  if (button) box.append(button);
}

function askUnmarked(sentence) {
  const main = sheet.querySelector('.closing [value="return"]');
  if (main) {
    // the same key goes on: the second press is meant
    main.value = "return-unmarked";
    main.firstChild.textContent = "Return without them ";
  }
  problem(sentence);
}

let leaving = false;
sheet.addEventListener("submit", async (event) => {
  const pressed = event.submitter;
  if (pressed?.hasAttribute("formaction")) return; // taking a return back: a plain post
  event.preventDefault();
  if (leaving) return;
  leaving = true;
  const body = new URLSearchParams(new FormData(sheet, pressed));
  sheet.setAttribute("aria-busy", "true");
  try {
    await outbox.settled(`${name}:`);
    const response = await send(sheet.action, { body, headers: { "X-Requested-With": "bandroom" } });
    const { next } = await response.json();
    outbox.drop(`${name}:`);
    location.assign(next);
    return;
  } catch (error) {
    const answer = await error.response?.json().catch(() => null);
    if (answer?.kind === "incomplete") askUnmarked(answer.sentence);
    else problem(answer?.sentence ?? error.message);
  }
  leaving = false;
  sheet.removeAttribute("aria-busy");
});
