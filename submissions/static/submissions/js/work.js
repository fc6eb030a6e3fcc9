/* A student's assignment: takes on this phone, files from elsewhere, turning in, and what is on its way. */

import { say } from "../../bandroom/js/say.js";
import { Beats } from "./recording/beats.js";
import { playTone } from "./recording/tone.js";
import { blobOf, dropTake, keepFile, recoverTakes, takesOf } from "./store.js";
import { pendingTurnIns, turnIn } from "./turnin.js";
import { createSender } from "./upload.js";

const data = JSON.parse(document.getElementById("page-data").textContent);
const dock = document.querySelector("[data-turn-in]");
const sender = createSender({ user: data.user });
const chosen = new Map();
const player = new Audio();
let playing = null;

const WAITING = {
  offline: "No internet right now. Your takes are kept on this phone and go by themselves later.",
  server: "The school’s server is busy. Your takes are kept here and go by themselves.",
  "sign-in": "You were signed out. Sign in again; your takes are kept here and then go by themselves.",
  "other-student": "Someone else is signed in here. Sign in as yourself; your takes are kept.",
};
const STATES = {
  recording: "still recording in another tab",
  kept: "kept on this phone",
  queued: "sending",
  received: "your school has it",
  refused: "cannot be used",
};

start();

async function start() {
  await recoverTakes(data.user);
  await draw();
  if (dock) {
    dock.hidden = false;
    dock.querySelector("[data-turn-in-button]").addEventListener("click", press);
  }
  for (const input of document.querySelectorAll("[data-file]")) input.addEventListener("change", () => addFile(input));
  for (const listen of document.querySelectorAll("[data-listen]")) {
    listen.addEventListener("click", () => toggle(listen, () => listen.dataset.listen));
  }
  for (const first of document.querySelectorAll("[data-first-note]")) {
    first.addEventListener("click", () => hearFirstNote(first.dataset.firstNote));
  }
  for (const beat of document.querySelectorAll("[data-beat]")) beat.addEventListener("click", () => hearBeat(beat));
  sender.addEventListener("change", draw);
  sender.addEventListener("turned-in", ({ detail }) => detail.assignment === data.assignment && turnedIn(detail.answer));
  sender.addEventListener("refused", ({ detail }) => tell(detail.says));
  sender.addEventListener("waiting", ({ detail }) => tell(WAITING[detail.why] ?? WAITING.server));
  sender.addEventListener("idle", afterSending);
  sender.start();
}

async function draw() {
  const takes = await takesOf(data.user, data.assignment);
  for (const line of data.lines) {
    const place = document.querySelector(`[data-takes="${line.label}"]`);
    const here = takes.filter((take) => take.lines.includes(line.label) && take.state !== "received");
    const usable = here.filter((take) => take.state === "kept" || take.state === "queued");
    if (!usable.some((take) => take.id === chosen.get(line.label))) chosen.delete(line.label);
    if (!chosen.has(line.label) && usable.length) chosen.set(line.label, usable.at(-1).id);
    place.replaceChildren(...here.map((take, index) => row(take, index, line.label)).reverse());
    step(line.label, usable.length ? `${usable.length} take${usable.length > 1 ? "s" : ""}` : "no take yet");
  }
  const pending = (await pendingTurnIns(data.user)).some((turnedIn) => turnedIn.assignment === data.assignment);
  const ready = data.lines.filter((line) => chosen.has(line.label)).length;
  const press = dock?.querySelector("[data-turn-in-button]");
  if (!press) return;
  press.disabled = pending || ready === 0;
  step("turn-in", pending ? "on its way" : ready === data.lines.length ? "ready" : "after your takes");
}

function row(take, index, label) {
  const box = element("div", "take");
  const name = element("label", "take__name");
  const pick = element("input");
  pick.type = "radio";
  pick.name = `take-${label}`;
  pick.value = take.id;
  pick.checked = chosen.get(label) === take.id;
  pick.disabled = take.state !== "kept";
  pick.addEventListener("change", () => {
    chosen.set(label, take.id);
    draw();
  });
  const words = element("span");
  const title = element("b");
  title.textContent = take.origin === "file" ? "A file" : `Take ${index + 1}`;
  const about = element("span", "quiet");
  const sent = take.state === "queued" && take.bytes ? `, ${Math.round((100 * (take.sent ?? 0)) / take.bytes)} %` : "";
  about.textContent = [take.seconds && clock(take.seconds), `${STATES[take.state] ?? take.state}${sent}`, take.says]
    .filter(Boolean)
    .join(", ");
  words.append(title, pick.checked ? " will be turned in" : "", document.createElement("br"), about);
  name.append(pick, words);
  const listen = element("button", "btn btn--small");
  listen.type = "button";
  listen.textContent = "Listen";
  listen.addEventListener("click", () => toggle(listen, async () => URL.createObjectURL(await blobOf(take))));
  box.append(name, listen);
  if (take.state === "kept") {
    const drop = element("button", "btn btn--small btn--quiet");
    drop.type = "button";
    drop.textContent = "Delete";
    drop.addEventListener("click", async () => {
      await dropTake(data.user, take.id);
      await draw();
    });
    box.append(drop);
  }
  return box;
}

async function addFile(input) {
  const [file] = input.files;
  input.value = "";
  if (!file) return;
  if (!file.size) return tell("That file is empty. Choose another.");
  try {
    const take = await keepFile({ user: data.user, assignment: data.assignment, lines: [input.dataset.file], file });
    chosen.set(input.dataset.file, take.id);
    tell("The file is kept here. Listen to it, then press Turn in.");
  } catch {
    tell("The file could not be kept on this device. Free some room, then add it again.");
  }
  return draw();
}

async function press() {
  dock.querySelector("[data-turn-in-button]").disabled = true;
  await turnIn({ user: data.user, assignment: data.assignment, takes: Object.fromEntries(chosen), sender });
  tell("Turning in…");
  await draw();
}

function turnedIn(answer) {
  document.body.dataset.turnedIn = answer.turned_in_at;
  tell(answer.late ? "Turned in, after it was due. Your director has it." : "Turned in. Your director has it.");
  step("turn-in", "done");
  draw();
}

async function afterSending() {
  await draw();
  const takes = await takesOf(data.user, data.assignment);
  const left = takes.filter((take) => take.state === "queued");
  if (document.body.dataset.turnedIn && !left.length) {
    tell("Turned in. Your school has every take.");
    document.body.dataset.allReceived = "yes";
  }
}

async function toggle(button, address) {
  if (playing === button) {
    player.pause();
    return still();
  }
  still();
  playing = button;
  button.textContent = "Stop";
  player.src = await address();
  player.onended = still;
  player.onerror = () => {
    still();
    tell("This take cannot be played here yet. Try again in a minute.");
  };
  return player.play().catch(() => {});
}

function still() {
  if (playing) playing.textContent = "Listen";
  playing = null;
}

let audio = null;
let beats = null;

async function hearFirstNote(label) {
  const line = data.lines.find((one) => one.label === label);
  audio ??= new AudioContext();
  await audio.resume();
  playTone(audio, line.firstNoteHz, { family: line.family });
}

async function hearBeat(button) {
  if (beats) {
    beats.stop();
    beats = null;
    for (const other of document.querySelectorAll("[data-beat]")) other.setAttribute("aria-pressed", "false");
    return;
  }
  const line = data.lines.find((one) => one.label === button.dataset.beat);
  audio ??= new AudioContext();
  await audio.resume();
  button.setAttribute("aria-pressed", "true");
  beats = new Beats(audio, {
    beats: Infinity,
    secondsPerBeat: 60 / line.tempo,
    accentEvery: line.beatsInBar,
    sounding: true,
    onBeat: () => {},
  });
  beats.start(audio.currentTime + 0.1);
}

function step(name, words) {
  const place = dock?.querySelector(`[data-step="${name}"] [data-step-says]`);
  if (place) place.textContent = words;
}

function tell(words) {
  const place = dock?.querySelector("[data-sending]");
  if (place) place.textContent = words;
  else say(words);
}

function element(tag, className = "") {
  const made = document.createElement(tag);
  if (className) made.className = className;
  return made;
}

function clock(seconds) {
  const whole = Math.round(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}
