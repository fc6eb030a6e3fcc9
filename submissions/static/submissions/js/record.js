/* The recorder's page: check, count off, play, listen back over the part, keep or again. */

import { say } from "../../bandroom/js/say.js";
import { keepOffline } from "./offline.js";
import { NoAnswer } from "./answer.js";
import { askToKeep, blobOf, dropTake, recoverTakes, takesOf } from "./store.js";
import { clock, fill } from "./words.js";
import { findChirp } from "./recording/chirp.js";
import { lookInto } from "./recording/found.js";
import { STEPS } from "./recording/meter.js";
import { MicrophoneError, browserName } from "./recording/microphone.js";
import { OneTab } from "./recording/one_tab.js";
import { Screen } from "./recording/screen.js";
import { Sheet } from "./recording/sheet.js";
import { NoRoom, TakeRecorder } from "./recording/take_recorder.js";
import { placeAt, timelineOf } from "./recording/timeline.js";

const BUTTONS = {
  start: ["check", "start"],
  checking: ["start", "uncheck"],
  recording: ["stop", "over"],
  after: ["keep", "another", "again"],
  busy: [],
};
// Sound that is looked for this long before the page tells how to be heard.
const HEARD_WITHIN_MS = 4000;

const page = document.querySelector("[data-recorder]");
if (page) start(page, JSON.parse(document.getElementById("page-data").textContent));
keepOffline();

function start(root, data) {
  const { words } = data;
  const find = (name) => root.querySelector(`[data-${name}]`);
  const button = (name) => document.querySelector(`[data-do="${name}"]`);
  let timeline = timelineOf(data.lines);
  const sheet = new Sheet(root);
  const screen = new Screen();
  const tab = new OneTab(`bandroom-recorder-${data.user}`);
  const playback = find("playback");
  const levelBars = Array.from({ length: STEPS }, () => find("level").appendChild(document.createElement("i")));
  let recorder = null;
  let take = null;
  let firstCount = null;
  let advice = null;

  const show = (state) => {
    root.dataset.state = state;
    for (const other of Object.values(BUTTONS).flat()) button(other).hidden = !BUTTONS[state].includes(other);
    find("choices").hidden = !["start", "checking"].includes(state);
    find("after").hidden = state !== "after";
    find("beats").hidden = state !== "recording" || choice("count") === "sound";
    find("level-box").hidden = ["start", "after"].includes(state);
    if (state !== "after") playback.pause();
  };
  /** A line that may be played slower or faster than asked for has a slider of its own. */
  const choosesTempo = (slider) => {
    const line = data.lines.find((one) => one.label === slider.dataset.tempo);
    const choose = () => {
      line.tempo = Number(slider.value) * line.perQuarter;
      slider.nextElementSibling.textContent = slider.value;
      timeline = timelineOf(data.lines);
    };
    slider.addEventListener("input", choose);
    choose(); // a browser may have kept where it stood
  };
  const tempos = () => Object.fromEntries(data.lines.map((line) => [line.label, Math.round(line.tempo / line.perQuarter)]));
  const choice = (name) => root.querySelector(`input[name="${name}"]:checked`)?.value;
  const headline = (title, hint = "") => {
    find("headline").textContent = title;
    find("hint").textContent = hint;
  };
  const trouble = (sentence) => {
    find("trouble").hidden = !sentence;
    find("trouble").textContent = sentence ?? "";
  };
  const help = (code) => {
    const known = words.microphone[code];
    const ways = known ? [...(known.ways.all ?? []), ...(known.ways[browserName()] ?? [])] : [];
    find("help").hidden = !known;
    find("help-says").textContent = known?.says ?? "";
    find("help-ways").replaceChildren(
      ...ways.map((way) => Object.assign(document.createElement("li"), { textContent: way })),
    );
  };

  const onLevel = ({ step, level, peak }) => {
    levelBars.forEach((bar, index) => bar.classList.toggle("is-on", index < step));
    if (root.dataset.level !== level) {
      root.dataset.level = level;
      find("level-says").textContent = words.level[level];
      find("level").setAttribute("aria-label", fill(words.levelLabel, { level: words.level[level] }));
    }
    root.dataset.peak = peak.toFixed(3);
    if (root.dataset.state === "checking") advise(level);
  };
  const onSeconds = (seconds) => {
    find("time").textContent = fill(words.time, { now: clock(seconds), whole: clock(timeline.at(-1).ends) });
    find("kept").textContent = fill(words.keptSoFar, { time: clock(Math.floor(seconds)) });
    root.dataset.seconds = Math.floor(seconds);
  };

  async function fresh() {
    await recorder?.close();
    recorder = null;
    const opened = new TakeRecorder({
      user: data.user,
      assignment: data.assignment,
      lines: data.lines.map((line) => line.label),
      tempos: tempos(),
      longestSeconds: data.longestSeconds,
      workletUrl: root.dataset.worklet,
      onAsked: () => help("asked"),
      onLevel,
      onSeconds,
      onTrouble: (code) => trouble(fill(words.trouble[code], { minutes: +(data.longestSeconds / 60).toFixed(2) })),
      onEnded: after,
    });
    try {
      await opened.open();
    } catch (error) {
      const known = error instanceof MicrophoneError || error instanceof NoAnswer;
      if (!known) console.error(error);
      trouble(null);
      help(error instanceof NoAnswer ? "silent" : (error.code ?? "failed"));
      return false;
    }
    recorder = opened;
    trouble(null);
    help(null);
    return true;
  }

  /** A student's ear is judged by what came through in the check, not by one moment of it. */
  function advise(level) {
    if (level === "good" && advice !== "good") {
      headline(words.heard, words.pressStart);
      say(words.heard);
      help(null);
      advice = "good";
    } else if (level === "loud" && advice !== "loud") {
      help("loud");
      say(words.level.loud);
      advice = "loud";
    } else if (!advice && ["none", "quiet"].includes(level) && performance.now() - recorder.checkedSince > HEARD_WITHIN_MS) {
      help("quiet");
      say(words.level.quiet);
      advice = "quiet";
    }
  }

  async function check() {
    show("busy");
    if (!(await fresh())) return show("start");
    advice = null;
    recorder.checkedSince = performance.now();
    screen.hold();
    headline(words.playFirstNote, words.watchLevel);
    return show("checking");
  }

  async function uncheck() {
    await recorder?.close();
    recorder = null;
    delete root.dataset.level;
    levelBars.forEach((bar) => bar.classList.remove("is-on"));
    find("level-says").textContent = words.level.off;
    screen.letGo();
    show("start");
  }

  async function record() {
    show("busy");
    if (!(await tab.enter())) {
      trouble(words.trouble.otherTab);
      return show("start");
    }
    if (!(await fresh())) return notStarted();
    askToKeep();
    sheet.clear();
    screen.hold();
    find("time").textContent = "";
    root.dataset.seconds = 0;
    headline(words.getReady);
    show("recording");
    const count = choice("count");
    const clicks = count === "sight" ? "none" : root.querySelector('input[name="clicks"]').checked ? "all" : "count";
    try {
      await recorder.record({ clicks, timeline, onCount, onPlay });
    } catch (error) {
      if (!(error instanceof NoRoom)) console.error(error);
      trouble(error instanceof NoRoom ? words.trouble.noRoom : words.trouble.notStarted);
      await recorder.close();
      recorder = null;
      return notStarted();
    }
    find("kept").scrollIntoView({ block: "nearest" });
    return undefined;
  }

  function notStarted() {
    tab.leave();
    show("start");
  }

  function onCount(part, index) {
    sheet.show(part.line.label);
    drawBeats(part.words, index);
    headline(words.getReady, index === part.words.length - 1 ? words.breathe : words.countsThenPlay);
  }

  function onPlay(part, beat) {
    const { line } = part;
    const inBar = Math.floor(beat % line.beatsInBar);
    const bar = Math.floor(beat / line.beatsInBar);
    drawBeats(Array.from({ length: line.beatsInBar }, (_, n) => String(n + 1)), inBar);
    sheet.light(line.label, bar, beat);
    if (inBar === 0) headline(fill(words.playing, { bar: bar + 1, bars: line.bars }), words.goOn);
  }

  function drawBeats(counts, now) {
    const cells = find("beats");
    if (cells.children.length !== counts.length || counts.some((word, n) => cells.children[n].textContent !== word)) {
      cells.replaceChildren(...counts.map((word) => Object.assign(document.createElement("li"), { textContent: word })));
    }
    [...cells.children].forEach((cell, index) => cell.classList.toggle("is-now", index === now));
  }

  async function stop() {
    show("busy");
    after(await recorder.stop());
  }

  async function after(finished) {
    tab.leave();
    take = finished;
    sheet.clear();
    if (!take) {
      trouble(words.trouble.nothing);
      headline(find("headline").dataset.title);
      return show("start");
    }
    let found = null;
    try {
      const blob = await blobOf(take);
      URL.revokeObjectURL(playback.src);
      playback.src = URL.createObjectURL(blob);
      found = await lookInto(blob);
    } catch (error) {
      console.error(error);
      trouble(words.trouble.notRead);
    }
    const chirpAt =
      (found?.samples && findChirp(found.samples, found.rate, { around: recorder.chirpSeconds })) ?? recorder.chirpSeconds;
    firstCount = chirpAt + recorder.leadSeconds - timeline[0].plays;
    root.dataset.beatOne = (firstCount + timeline[0].plays).toFixed(4);
    find("found").textContent = words.found[found?.level] ?? "";
    headline(words.listenBack, words.keepOrAgain);
    find("kept").textContent = words.keptHere;
    root.dataset.take = take.id;
    show("after");
    return say(words.stopped);
  }

  /** The light follows the ear: beat 1 is known in the recording, so its every moment is a place in the part. */
  function follow() {
    const place = placeAt(timeline, playback.currentTime - firstCount);
    if (place) sheet.light(place.line.label, Math.floor(place.beat / place.line.beatsInBar), place.beat);
    else sheet.clear();
    if (!playback.paused) requestAnimationFrame(follow);
  }
  playback.addEventListener("play", () => requestAnimationFrame(follow));
  playback.addEventListener("seeked", follow);
  playback.addEventListener("ended", () => sheet.clear());

  async function numberTakes() {
    const takes = await takesOf(data.user, data.assignment);
    const labels = data.lines.map((line) => line.label).join();
    const before = takes.filter((other) => other.lines.join() === labels && other.id !== take?.id).length;
    document.querySelector("[data-take-number]").textContent = `, ${fill(words.takeNumber, { number: before + 1 })}`;
  }

  async function again({ keeps }) {
    const old = take;
    take = null;
    if (old && !keeps) await dropTake(data.user, old.id);
    await numberTakes();
    await record();
  }

  button("check").addEventListener("click", check);
  button("uncheck").addEventListener("click", uncheck);
  button("start").addEventListener("click", record);
  button("stop").addEventListener("click", stop);
  button("over").addEventListener("click", async () => {
    show("busy");
    take = await recorder.stop();
    await again({ keeps: false });
  });
  button("again").addEventListener("click", () => again({ keeps: false }));
  button("another").addEventListener("click", () => again({ keeps: true }));
  button("keep").addEventListener("click", () => location.assign(root.dataset.back));
  for (const radio of root.querySelectorAll('input[name="count"]')) {
    radio.addEventListener("change", () => (find("clicks").hidden = choice("count") === "sight"));
  }
  find("clicks").hidden = choice("count") === "sight";
  root.querySelectorAll("[data-tempo]").forEach(choosesTempo);
  // A microphone that is only being checked goes off with the page; a recording ends by itself and says so.
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden || root.dataset.state !== "checking") return;
    uncheck();
    trouble(words.trouble.checkStopped);
  });
  recoverTakes(data.user)
    .then((recovered) => recovered.length && trouble(words.trouble.recovered))
    .then(numberTakes)
    .catch((error) => console.info(error)); // a browser without storage says so when a recording starts
  show("start");
  // Pressed before this script was there, a button would do nothing.
  for (const name of ["check", "start"]) button(name).disabled = false;
}
