/* Takes go to the school by themselves: announced first, then their bytes, until the receipt is here.

   The protocol of the bytes is tus 1.0. Only the SHA-256 that the server computed over the whole file, equal to our own,
   frees the phone's copy: a sign-in page, a redirect, an error or a hotel's Wi-Fi page is no receipt. Whatever goes wrong
   is waited out; only a sentence of the server itself refuses a take, and then its bytes stay here too. */

import { csrfToken } from "../../bandroom/js/csrf.js";
import { changeTake, dropPress, letGo, onChange, piece, pressesOf, takeOf, takesOf } from "./store.js";

const TUS = { "Tus-Resumable": "1.0.0" };
// A piece grows while the line is fast and shrinks when one did not get through.
const FIRST_PIECE = 256 * 1024;
const LEAST_PIECE = 32 * 1024;
const MOST_PIECE = 2 * 1024 * 1024;
const FAST_MS = 4000;
const LONGEST_WAIT = 60_000;
const ANSWER_WITHIN = 30_000;
const PIECE_WITHIN = 120_000;
const MOST_STARTS = 5;

/** Not now: `why` is offline, server, sign-in or other-student. */
class Later extends Error {
  constructor(why) {
    super(why);
    this.why = why;
  }
}

/** Never: the server's own sentence. */
class Refused extends Error {}

/**
 * @returns an EventTarget with start(), stop(), now(), queue(...ids). Events: change {take}, progress {take},
 *   turned-in {assignment, answer}, refused {take | assignment, says}, waiting {why, seconds}, idle
 */
export function createSender(options) {
  return new Sender(options);
}

class Sender extends EventTarget {
  constructor({ user, chunkBytes = FIRST_PIECE, mostBytes = MOST_PIECE, firstWait = 2000 }) {
    super();
    Object.assign(this, { user, chunkBytes, mostBytes, firstWait, wait: firstWait, timer: null });
    Object.assign(this, { running: null, again: false });
    this.over = new AbortController();
  }

  start() {
    const { signal } = this.over;
    const go = () => this.now();
    window.addEventListener("online", go, { signal });
    document.addEventListener("visibilitychange", () => document.hidden || go(), { signal });
    signal.addEventListener("abort", onChange(({ user, id }) => this.tellOf(user, id)));
    return this.now();
  }

  stop() {
    clearTimeout(this.timer);
    this.over.abort();
  }

  async queue(...ids) {
    for (const id of ids) {
      const take = await takeOf(this.user, id);
      if (take && ["kept", "refused"].includes(take.state)) {
        await changeTake(this.user, id, { state: "queued", says: "" });
      }
    }
    return this.now();
  }

  /** One pass over all that waits; a call during a pass has another one follow. */
  now() {
    this.again = Boolean(this.running);
    this.running ??= this.alone().finally(() => {
      this.running = null;
      if (this.again) this.now();
    });
    return this.running;
  }

  async alone() {
    clearTimeout(this.timer);
    if (this.over.signal.aborted) return;
    const pass = async (lock) => (lock ? this.pass() : this.later("other-tab"));
    if (navigator.locks) {
      await navigator.locks.request(`bandroom-sending-${this.user}`, { ifAvailable: true }, pass);
    } else {
      await pass(true);
    }
  }

  async pass() {
    try {
      for (const press of await pressesOf(this.user)) await this.turnIn(press);
      const queued = (await takesOf(this.user)).filter((take) => take.state === "queued");
      for (const take of queued) await this.orRefuse(take, () => this.declare(take));
      for (const { id } of queued) {
        const take = await takeOf(this.user, id);
        if (take?.state === "queued") await this.orRefuse(take, () => this.send(take));
      }
      this.wait = this.firstWait;
      this.tell("idle");
    } catch (error) {
      if (!(error instanceof Later)) console.error(error);
      this.later(error instanceof Later ? error.why : "server");
    }
  }

  later(why) {
    if (this.over.signal.aborted) return;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.now(), this.wait);
    if (why !== "other-tab") this.tell("waiting", { why, seconds: this.wait / 1000 });
    this.wait = Math.min(this.wait * 2, LONGEST_WAIT);
  }

  async orRefuse(take, work) {
    try {
      await work();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      const refused = await changeTake(this.user, take.id, { state: "refused", says: error.message });
      this.tell("refused", { take: refused, says: error.message });
    }
  }

  async turnIn(press) {
    const takes = await Promise.all([...new Set(Object.values(press.takes))].map((id) => takeOf(this.user, id)));
    const declare = takes.filter((take) => take?.sha256).map(declarationOf);
    const body = {
      ...{ student: this.user, takes: press.takes, declare },
      ...{ pressed_at: iso(press.pressedAt), phone_time: iso(Date.now()) },
    };
    try {
      const answer = await this.post(`/work/${press.assignment}/turn-in/`, body);
      if (!answer.turned_in_at || !answer.takes) throw new Later("server");
      for (const take of Object.values(answer.takes)) await changeTake(this.user, take.id, { declared: true });
      await dropPress(press);
      this.tell("turned-in", { assignment: press.assignment, answer });
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      await dropPress(press);
      for (const take of takes) {
        if (take && !take.declared) await changeTake(this.user, take.id, { state: "kept", says: error.message });
      }
      this.tell("refused", { assignment: press.assignment, says: error.message });
    }
  }

  async declare(take) {
    if (take.declared) return;
    const body = { ...declarationOf(take), student: this.user, phone_time: iso(Date.now()) };
    const answer = await this.post(`/work/${take.assignment}/takes/`, body);
    if (answer.id !== take.id) throw new Later("server");
    await changeTake(this.user, take.id, { declared: true });
  }

  async send(take) {
    for (let start = 0; start < MOST_STARTS; start += 1) {
      let offset = await this.offset("HEAD", take);
      while (offset < take.bytes) {
        const before = offset;
        offset = await this.sendPiece(take, offset);
        this.tell("progress", { take: await changeTake(this.user, take.id, { sent: offset }) });
        if (offset <= before) break; // it starts over, or another device was faster: ask again
      }
      if (offset < take.bytes) continue;
      // An empty piece has the server look again, if it stopped just after the last byte.
      if (await this.hasReceipt(take)) return this.done(take);
      await this.offset("PATCH", take, { from: take.bytes, body: new Blob() });
      if (await this.hasReceipt(take)) return this.done(take);
    }
    throw new Later("server");
  }

  /** @returns where the server stands afterwards */
  async sendPiece(take, from) {
    const body = await piece(take, from, Math.min(from + this.chunkBytes, take.bytes));
    const began = performance.now();
    try {
      const offset = await this.offset("PATCH", take, { from, body });
      if (performance.now() - began < FAST_MS) this.chunkBytes = Math.min(this.chunkBytes * 2, this.mostBytes);
      return offset;
    } catch (error) {
      this.chunkBytes = Math.max(Math.floor(this.chunkBytes / 2), Math.min(LEAST_PIECE, this.mostBytes));
      throw error;
    }
  }

  async done(take) {
    await letGo(this.user, take.id);
  }

  async offset(method, take, { from = null, body } = {}) {
    const headers = { ...TUS };
    if (method === "PATCH") {
      headers["Upload-Offset"] = String(from);
      headers["Content-Type"] = "application/offset+octet-stream";
    }
    const response = await this.ask(`/uploads/${take.id}/`, { method, headers, body, within: PIECE_WITHIN });
    const offset = Number(response.headers.get("Upload-Offset") ?? NaN);
    const understood = response.ok || response.status === 409;
    if (understood && Number.isInteger(offset) && offset >= 0 && offset <= take.bytes) return offset;
    throw await failure(response);
  }

  async hasReceipt(take) {
    const response = await this.ask(`/takes/${take.id}/`, { method: "GET" });
    const answer = response.ok ? await json(response) : null;
    if (answer?.id !== take.id) throw await failure(response);
    return answer.sha256 === take.sha256;
  }

  async post(url, data) {
    const headers = { "Content-Type": "application/json" };
    const response = await this.ask(url, { method: "POST", headers, body: JSON.stringify(data) });
    const answer = response.ok ? await json(response) : null;
    if (answer === null) throw await failure(response);
    return answer;
  }

  async ask(url, { method, headers = {}, body, within = ANSWER_WITHIN }) {
    try {
      return await fetch(url, {
        ...{ method, body, credentials: "same-origin", redirect: "manual", cache: "no-store" },
        headers: { "X-CSRFToken": token(), "X-Requested-With": "bandroom", ...headers },
        signal: AbortSignal.timeout(within),
      });
    } catch {
      throw new Later(navigator.onLine ? "server" : "offline");
    }
  }

  async tellOf(user, id) {
    if (user === this.user) this.tell("change", { take: await takeOf(user, id), id });
  }

  tell(name, detail = {}) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }
}

function declarationOf(take) {
  return {
    ...{ id: take.id, lines: take.lines, bytes: take.bytes, sha256: take.sha256, origin: take.origin },
    ...{ recorded_at: iso(take.recordedAt), lead_seconds: take.leadSeconds, tempos: take.tempos },
  };
}

/** What an answer means that is not the wanted one: an error to throw. */
async function failure(response) {
  const answer = response.type === "opaqueredirect" ? null : await json(response);
  const says = typeof answer?.says === "string" ? answer.says : null;
  if (response.status === 401) return new Later(says ? "other-student" : "sign-in");
  if (response.status === 403 && !says) return new Later("sign-in"); // the token of a session that is over
  if (says && response.status >= 400 && response.status < 500) return new Refused(says);
  return new Later("server");
}

async function json(response) {
  if (!response.headers.get("Content-Type")?.startsWith("application/json")) return null;
  try {
    return await response.json();
  } catch {
    return null;
  }
}

/** The cookie is always today's; a page kept for use without a network carries an old token. */
function token() {
  return document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1] ?? csrfToken();
}

function iso(milliseconds) {
  return milliseconds === null ? null : new Date(milliseconds).toISOString();
}
