/* The recorder's page: check, count off, play, listen back, keep or again. */

import { say } from "../../bandroom/js/say.js";
import { askToKeep, blobOf, dropTake, takeOf } from "./store.js";
import { STEPS } from "./recording/meter.js";
import { TakeRecorder } from "./recording/take-recorder.js";

const page = document.querySelector("[data-recorder]");
if (page) start(page, JSON.parse(document.getElementById("page-data").textContent));

function start(root, data) {
  const find = (name) => root.querySelector(`[data-${name}]`);
  const button = (name) => document.querySelector(`[data-do="${name}"]`);
  const levelBars = Array.from({ length: STEPS }, () => find("level").appendChild(document.createElement("i")));
  const longest = data.lines.reduce((sum, line) => sum + ((line.countOff.length + line.beats) * 60) / line.tempo, 0);
  let recorder = null;
  let take = null;
  let playbackUrl = null;

  const show = (state) => {
    root.dataset.state = state;
    const shown = { start: ["check", "start"], recording: ["stop", "over"], after: ["keep", "again"], busy: [] }[state];
    for (const name of ["check", "start", "stop", "over", "keep", "again"]) button(name).hidden = !shown.includes(name);
    find("choices").hidden = state !== "start";
    find("after").hidden = state !== "after";
    find("beats").hidden = state !== "recording";
  };
  const headline = (words, hint = "") => {
    find("headline").textContent = words;
    find("hint").textContent = hint;
  };
  const trouble = (sentence) => {
    find("trouble").hidden = !sentence;
    find("trouble").textContent = sentence ?? "";
  };

  const onLevel = ({ step, says, peak }) => {
    levelBars.forEach((bar, index) => bar.classList.toggle("is-on", index < step));
    find("level-says").textContent = says;
    find("level").setAttribute("aria-label", `Sound level: ${says}`);
    root.dataset.peak = peak.toFixed(3);
  };
  const onSeconds = (seconds) => {
    find("time").textContent = `${clock(seconds)} of about ${clock(longest)}`;
    find("kept").textContent = `${Math.floor(seconds)} seconds kept on this phone so far. If the internet drops, nothing is lost.`;
  };

  async function fresh() {
    await recorder?.close();
    recorder = new TakeRecorder({
      user: data.user,
      assignment: data.assignment,
      lines: data.lines.map((line) => line.label),
      workletUrl: root.dataset.worklet,
      onLevel,
      onSeconds,
      onTrouble: (sentence) => trouble(sentence),
      onEnded: (ended) => after(ended),
    });
    try {
      await recorder.open();
      trouble(null);
      return true;
    } catch (error) {
      trouble(error.message);
      recorder = null;
      return false;
    }
  }

  async function check() {
    if (!(await fresh())) return;
    headline("Play your first note", "Watch the level. When it says Good level, press Start.");
  }

  async function record() {
    show("busy");
    if (!(await fresh())) return show("start");
    await askToKeep();
    root.querySelectorAll(".bar-light.is-on").forEach((light) => light.classList.remove("is-on"));
    const sounding = root.querySelector('input[name="count"]:checked').value === "sound";
    show("recording");
    try {
      await recorder.record({ sounding, plan: data.lines, onCount, onPlay });
    } catch (error) {
      trouble("Recording did not start. Load the page again, or free some room on this phone.");
      await recorder.close();
      return show("start");
    }
    return undefined;
  }

  function onCount(line, index) {
    showLine(line);
    drawBeats(line.countOff, index);
    headline(line.countOff[index], index === line.countOff.length - 1 ? "Breathe" : "Get ready");
  }

  function onPlay(line, beat) {
    const bar = Math.floor(beat / line.beatsInBar);
    const inBar = Math.floor(beat % line.beatsInBar);
    drawBeats(Array.from({ length: line.beatsInBar }, (_, n) => String(n + 1)), inBar);
    if (inBar !== 0) return;
    headline(`Playing, bar ${bar + 1} of ${line.bars}`, "Keep going to the end. A slip is fine. Then press Stop.");
    for (const light of root.querySelectorAll(`[data-sheet="${line.label}"] .bar-light`)) {
      light.classList.toggle("is-on", Number(light.dataset.bar) === bar);
    }
  }

  function showLine(line) {
    for (const sheet of root.querySelectorAll("[data-sheet]")) sheet.hidden = sheet.dataset.sheet !== line.label;
  }

  function drawBeats(words, now) {
    find("beats").replaceChildren(
      ...words.map((word, index) => {
        const cell = document.createElement("li");
        cell.textContent = word;
        cell.classList.toggle("is-now", index === now);
        return cell;
      }),
    );
  }

  async function stop() {
    show("busy");
    after(await recorder.stop());
  }

  async function after(finished) {
    take = finished;
    root.querySelectorAll(".bar-light.is-on").forEach((light) => light.classList.remove("is-on"));
    if (!take) {
      trouble("Nothing was recorded. Check your microphone and try again.");
      return show("start");
    }
    if (playbackUrl) URL.revokeObjectURL(playbackUrl);
    playbackUrl = URL.createObjectURL(await blobOf(take));
    find("playback").src = playbackUrl;
    headline("Listen back", "Keep it, or record again. You can record as often as you like.");
    find("kept").textContent = "This take is kept on this phone. Nothing is turned in until you press Turn in.";
    show("after");
    root.dataset.take = take.id;
    return say("Recording stopped. Listen back, keep it, or record again.");
  }

  async function drop() {
    const id = take?.id;
    take = null;
    if (id && (await takeOf(data.user, id))) await dropTake(data.user, id);
  }

  button("check").addEventListener("click", check);
  button("start").addEventListener("click", record);
  button("stop").addEventListener("click", stop);
  button("over").addEventListener("click", async () => {
    show("busy");
    take = await recorder.stop();
    await drop();
    await record();
  });
  button("again").addEventListener("click", async () => {
    await drop();
    await record();
  });
  button("keep").addEventListener("click", () => location.assign(root.dataset.back));
  show("start");
  // Pressed before this script was there, a button would do nothing.
  for (const name of ["check", "start"]) button(name).disabled = false;
}

function clock(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}
