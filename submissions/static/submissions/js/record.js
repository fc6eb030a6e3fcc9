/* The recorder's page: check, count off, play, listen back over the part, keep or again. */

import { say } from "../../bandroom/js/say.js";
import { keepOffline } from "./offline.js";
import { askToKeep, dropTake, recoverTakes, takesOf } from "./store.js";
import { fill } from "./words.js";
import { CountOff } from "./recording/count_off.js";
import { Device } from "./recording/device.js";
import { ListeningBack } from "./recording/listening_back.js";
import { OneTab } from "./recording/one_tab.js";
import { Screen } from "./recording/screen.js";
import { Sheet } from "./recording/sheet.js";
import { NoRoom } from "./recording/take_recorder.js";
import { Tempos } from "./recording/tempos.js";
import { Trouble } from "./recording/trouble.js";
import { View } from "./recording/view.js";

class Recorder {
  constructor(root, data) {
    const { words } = data;
    const view = new View(root, words);
    const sheet = new Sheet(root);
    const trouble = new Trouble(view, words);
    Object.assign(this, { data, words, view, sheet, trouble, take: null });
    this.tempos = new Tempos(root, data.lines);
    this.countOff = new CountOff({ view, sheet, words });
    this.listeningBack = new ListeningBack({ view, sheet, words });
    this.device = new Device({ view, trouble, words, options: () => this.options() });
    this.screen = new Screen();
    this.tab = new OneTab(`bandroom-recorder-${data.user}`);
  }

  open() {
    const { data, view } = this;
    const acts = {
      check: () => this.check(),
      uncheck: () => this.uncheck(),
      start: () => this.record(),
      stop: () => this.stop(),
      over: () => this.startOver(),
      again: () => this.again({ keeps: false }),
      another: () => this.again({ keeps: true }),
      keep: () => location.assign(view.root.dataset.back),
    };
    for (const [name, act] of Object.entries(acts)) view.button(name).addEventListener("click", act);
    // A microphone that is only being checked goes off with the page; a recording ends by itself and says so.
    document.addEventListener("visibilitychange", () => {
      if (!document.hidden || view.state !== "checking") return;
      this.uncheck();
      this.trouble.tell("checkStopped");
    });
    recoverTakes(data.user)
      .then((recovered) => recovered.length && this.trouble.tell("recovered"))
      .then(() => this.numberTakes())
      .catch((error) => console.info(error)); // a browser without storage says so when a recording starts
    view.ready();
  }

  options() {
    const { data, tempos, trouble, view } = this;
    return {
      ...{ user: data.user, assignment: data.assignment, lines: data.lines.map((line) => line.label) },
      ...{ tempos: tempos.chosen, longestSeconds: data.longestSeconds, workletUrl: view.root.dataset.worklet },
      onSeconds: (seconds) => view.time(seconds, tempos.seconds),
      onTrouble: (code) => trouble.tell(code, { minutes: +(data.longestSeconds / 60).toFixed(2) }),
      onEnded: (take) => this.after(take),
    };
  }

  async check() {
    this.view.show("busy");
    if (!(await this.device.open())) return this.view.show("start");
    this.screen.hold();
    return this.device.check();
  }

  async uncheck() {
    await this.device.checkOver();
    this.screen.letGo();
  }

  async record() {
    const { device, tempos, view, words } = this;
    view.show("busy");
    if (!(await this.tab.enter())) {
      this.trouble.tell("otherTab");
      return view.show("start");
    }
    if (!(await device.open())) return this.notStarted();
    askToKeep();
    this.sheet.clear();
    this.screen.hold();
    view.noTime();
    view.headline(words.getReady);
    view.show("recording");
    try {
      await device.recorder.record({
        ...{ clicks: this.countOff.clicks, timeline: tempos.timeline },
        onCount: (part, index) => this.countOff.onCount(part, index),
        onPlay: (part, beat) => this.countOff.onPlay(part, beat),
      });
    } catch (error) {
      if (!(error instanceof NoRoom)) console.error(error);
      this.trouble.tell(error instanceof NoRoom ? "noRoom" : "notStarted");
      await device.close();
      return this.notStarted();
    }
    return view.find("kept").scrollIntoView({ block: "nearest" });
  }

  notStarted() {
    this.tab.leave();
    this.view.show("start");
  }

  async stop() {
    this.view.show("busy");
    await this.after(await this.device.recorder.stop());
  }

  async startOver() {
    this.view.show("busy");
    this.take = await this.device.recorder.stop();
    await this.again({ keeps: false });
  }

  async after(finished) {
    const { view, words } = this;
    this.tab.leave();
    this.take = finished;
    this.sheet.clear();
    if (!finished) {
      this.trouble.tell("nothing");
      view.titled();
      return view.show("start");
    }
    try {
      await this.listeningBack.open(finished, { recorder: this.device.recorder, timeline: this.tempos.timeline });
    } catch (error) {
      console.error(error);
      this.trouble.tell("notRead");
    }
    view.headline(words.listenBack, words.keepOrAgain);
    view.find("kept").textContent = words.keptHere;
    view.root.dataset.take = finished.id;
    view.show("after");
    return say(words.stopped);
  }

  async again({ keeps }) {
    const old = this.take;
    this.take = null;
    if (old && !keeps) await dropTake(this.data.user, old.id);
    await this.numberTakes();
    await this.record();
  }

  async numberTakes() {
    const takes = await takesOf(this.data.user, this.data.assignment);
    const labels = this.data.lines.map((line) => line.label).join();
    const before = takes.filter((other) => other.lines.join() === labels && other.id !== this.take?.id).length;
    const number = fill(this.words.takeNumber, { number: before + 1 });
    document.querySelector("[data-take-number]").textContent = `, ${number}`;
  }
}

const page = document.querySelector("[data-recorder]");
if (page) new Recorder(page, JSON.parse(document.getElementById("page-data").textContent)).open();
keepOffline();
