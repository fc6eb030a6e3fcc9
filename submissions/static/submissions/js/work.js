/* A student's assignment: takes on this phone, files from elsewhere, turning in, and what is on its way. */

import { ask } from "../../bandroom/js/confirm.js";
import { say } from "../../bandroom/js/say.js";
import { NoAnswer, wakeAudio } from "./answer.js";
import { Choices } from "./choices.js";
import { askBeforeClosing } from "./closing.js";
import { keepOffline } from "./offline.js";
import { Beats } from "./recording/beats.js";
import { lookInto } from "./recording/found.js";
import { isRecording } from "./recording/kinds.js";
import { playTone } from "./recording/tone.js";
import { blobOf, changeTake, dropTake, isFull, keepFile, recoverTakes, takesOf } from "./store.js";
import { pendingTurnIns, turnIn } from "./turnin.js";
import { createSender } from "./upload.js";
import { clock, fill } from "./words.js";

const data = JSON.parse(document.getElementById("page-data").textContent);
const { words } = data;
const dock = document.querySelector("[data-turn-in]");
const sender = createSender({ user: data.user });
const chosen = new Choices({ assignment: data.assignment, lines: data.lines });
const JUST_IN = "bandroom.just-in";
const player = new Audio();
let playing = null;
let isIn = false;

start();

async function start() {
  const recovered = await recoverTakes(data.user);
  for (const take of recovered) {
    const { seconds } = await lookInto(await blobOf(take)).catch(() => ({ seconds: null }));
    await changeTake(data.user, take.id, { seconds });
  }
  await draw();
  welcomeBack();
  if (!navigator.onLine) tell(words.copyOfPage);
  if (recovered.some((take) => take.assignment === data.assignment)) tell(words.recovered);
  if (dock) {
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
  document.body.dataset.ready = "";
  sender.addEventListener("change", draw);
  sender.addEventListener("turned-in", ({ detail }) => detail.assignment === data.assignment && turnedIn(detail.answer));
  sender.addEventListener("refused", ({ detail }) => {
    isIn = false; // there is something to read and to do here
    tell(detail.says);
  });
  sender.addEventListener("waiting", ({ detail }) => waiting(detail.why));
  sender.addEventListener("idle", afterSending);
  sender.start();
  keepOffline();
}

function waiting(why) {
  tell(words.waiting[why] ?? words.waiting.server);
  if (why !== "sign-in" && why !== "other-student") return;
  const link = element("a");
  link.href = data.signIn;
  link.textContent = words.signIn;
  dock?.querySelector("[data-sending]")?.append(" ", link);
}

async function draw() {
  const takes = await takesOf(data.user, data.assignment);
  for (const line of data.lines) {
    const place = document.querySelector(`[data-takes="${line.label}"]`);
    const here = takes.filter((take) => take.lines.includes(line.label) && take.state !== "received");
    const usable = here.filter((take) => take.state === "kept" || take.state === "queued");
    chosen.settle(line.label, usable);
    place.replaceChildren(...here.map((take, index) => row(take, index, line.label)).reverse());
    const count = usable.length;
    const none = data.linesIn.includes(line.label) ? words.isIn : words.noTake;
    step(line.label, count > 1 ? fill(words.takes, { count }) : count ? words.oneTake : none);
  }
  const pending = (await pendingTurnIns(data.user)).some((turnedIn) => turnedIn.assignment === data.assignment);
  askBeforeClosing(pending || takes.some((take) => take.state === "queued"));
  const ready = data.lines.filter((line) => chosen.has(line.label)).length;
  // Everything is in and nothing new lies here: there is nothing to press.
  if (dock) dock.hidden = "in" in dock.dataset && !pending && takes.every((take) => take.state === "received");
  const press = dock?.querySelector("[data-turn-in-button]");
  if (!press) return;
  press.disabled = pending || ready === 0;
  offerNext({ ready, pending });
  step("turn-in", pending ? words.onItsWay : ready === data.lines.length ? words.ready : words.afterTakes);
}

/** What comes next is at hand: a step that the director wants first, else the next line to record, until every line has a
    take; with none at all there is nothing to turn in yet. */
function offerNext({ ready, pending }) {
  const link = dock.querySelector("[data-next]");
  const isStep = "firstStep" in link.dataset;
  const press = dock.querySelector("[data-turn-in-button]");
  const next = stillToPlay().find((line) => document.querySelector(`[data-record="${line.label}"]`));
  link.hidden = (!isStep && !next) || pending || "in" in dock.dataset;
  press.hidden = ready === 0 && !pending && !link.hidden;
  press.classList.toggle("btn--main", link.hidden);
  if (link.hidden || isStep) return;
  link.href = document.querySelector(`[data-record="${next.label}"]`).href;
  link.textContent = fill(words.recordLine, { line: next.label });
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
  const told = element("span");
  const title = element("b");
  title.textContent = take.origin === "file" ? take.name || words.file : fill(words.take, { number: index + 1 });
  const about = element("span", "quiet");
  const sent = take.state === "queued" && take.bytes ? `, ${Math.round((100 * (take.sent ?? 0)) / take.bytes)} %` : "";
  const length = take.seconds && clock(take.seconds);
  about.textContent = [length, take.cut && words.cutOff, `${words.states[take.state] ?? take.state}${sent}`, take.says]
    .filter(Boolean)
    .join(", ");
  told.append(title, pick.checked ? ` ${words.willBeTurnedIn}` : "", element("br"), about);
  for (const code of take.found ?? []) told.append(element("br"), foundSentence(code, take, label));
  name.append(pick, told);
  const listen = element("button", "btn btn--small");
  listen.type = "button";
  listen.textContent = words.listen;
  listen.addEventListener("click", () => toggle(listen, async () => URL.createObjectURL(await blobOf(take))));
  const acts = element("div", "take__acts");
  acts.append(listen);
  box.append(name, acts);
  if (take.state === "kept") {
    const drop = element("button", "btn btn--small btn--quiet");
    drop.type = "button";
    drop.textContent = words.delete;
    drop.addEventListener("click", async () => {
      await dropTake(data.user, take.id);
      await draw();
    });
    acts.append(drop);
  }
  return box;
}

async function addFile(input) {
  const [file] = input.files;
  input.value = "";
  if (!file) return;
  if (!file.size) return tell(words.emptyFile);
  if (!(await isRecording(file))) return tell(fill(words.notARecording, { name: file.name }));
  tell(words.looking);
  try {
    const take = await keepFile({ user: data.user, assignment: data.assignment, lines: [input.dataset.file], file });
    chosen.set(input.dataset.file, take.id);
    const found = await lookInto(file);
    await changeTake(data.user, take.id, { seconds: found.seconds, found: codesOf(found, input.dataset.file) });
    tell(words.fileKept);
  } catch (error) {
    if (!isFull(error)) console.error(error);
    tell(words.fileNotKept);
  }
  return draw();
}

/** What is worth saying of a file before it is turned in; a file much longer than the line may be the wrong one. */
function codesOf({ level, quietParts, seconds }, label) {
  const codes = [level];
  if (quietParts) codes.push("quietParts");
  if (seconds > 4 * lineSeconds(label) + 30) codes.push("long");
  return codes;
}

function foundSentence(code, take, label) {
  const values = { length: take.seconds && clock(take.seconds), whole: clock(lineSeconds(label)) };
  const sentence = element("span", code === "good" ? "quiet" : "take__found");
  sentence.textContent = fill(words.found[code], values);
  return sentence;
}

function lineSeconds(label) {
  const line = data.lines.find((one) => one.label === label);
  return (line.beats * 60) / line.tempo;
}

/** Lines that neither the school has nor a take here is chosen for. */
function stillToPlay() {
  return data.lines.filter((line) => !chosen.has(line.label) && !data.linesIn.includes(line.label));
}

async function press() {
  const left = stillToPlay();
  if (left.length) {
    const now = data.lines.filter((line) => chosen.has(line.label));
    const question = fill(left.length > 1 ? words.turnInPartOfMany : words.turnInPart, { lines: named(left) });
    if (!(await ask(question, fill(words.turnInLine, { lines: named(now) })))) return;
  }
  dock.querySelector("[data-turn-in-button]").disabled = true;
  try {
    await turnIn({ user: data.user, assignment: data.assignment, takes: Object.fromEntries(chosen), sender });
    tell(words.turningIn);
  } catch (error) {
    if (!isFull(error)) throw error;
    tell(words.noRoomToPress);
  }
  await draw();
}

function named(lines) {
  return lines.map((line) => line.label).join(", ");
}

/** The school knows of it; whether it has the bytes as well is said when they are there. */
async function turnedIn(answer) {
  isIn = true;
  const isSending = (await takesOf(data.user, data.assignment)).some((take) => take.state === "queued");
  tell(isSending ? (answer.late ? words.stillSendingLate : words.stillSending) : answer.late ? words.turnedInLate : words.turnedIn);
  step("turn-in", isSending ? words.onItsWay : words.done);
  draw();
}

/** When the school has everything, the page is as it was before the press: it is fetched anew, and says what happened. */
async function afterSending() {
  await draw();
  const takes = await takesOf(data.user, data.assignment);
  if (!isIn || takes.some((take) => take.state === "queued")) return;
  try {
    sessionStorage.setItem(JUST_IN, String(data.assignment));
  } catch {
    // no storage: the new page tells that the work is in, without the sentence
  }
  location.reload();
}

function welcomeBack() {
  try {
    if (sessionStorage.getItem(JUST_IN) !== String(data.assignment)) return;
    sessionStorage.removeItem(JUST_IN);
  } catch {
    return;
  }
  const said = document.querySelector("[data-just-in]");
  said.hidden = false;
  say(said.textContent);
}

async function toggle(button, address) {
  if (playing === button) {
    player.pause();
    return still();
  }
  still();
  playing = button;
  button.textContent = words.stop;
  player.src = await address();
  player.onended = still;
  player.onerror = () => {
    still();
    tell(words.cannotPlay);
  };
  return player.play().catch(() => {});
}

function still() {
  if (playing) playing.textContent = words.listen;
  playing = null;
}

let audio = null;
let beats = null;

async function isAwake(context) {
  try {
    await wakeAudio(context);
    return true;
  } catch (error) {
    if (!(error instanceof NoAnswer)) throw error;
    tell(words.noSound);
    return false;
  }
}

async function hearFirstNote(label) {
  const line = data.lines.find((one) => one.label === label);
  audio ??= new AudioContext();
  if (!(await isAwake(audio))) return;
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
  if (!(await isAwake(audio))) return;
  button.setAttribute("aria-pressed", "true");
  beats = new Beats(audio, {
    beats: Infinity,
    secondsPerBeat: 60 / line.tempo,
    accentEvery: line.beatsInBar,
    soundsUntil: Infinity,
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
