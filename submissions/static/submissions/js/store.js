/* Takes on this phone: kept second by second as they are recorded, until the school has the whole file.

   A take: {id, user, assignment, lines, origin, mime, recordedAt, leadSeconds, tempos, seconds, cut, name, state, bytes,
   sha256, ends, sent, says, declared}. `cut`: a reload or a crash ended it, not Stop; `name`: the file's own, kept here alone. Its state goes recording -> kept -> queued -> received, or refused; a file from elsewhere is "copying"
   before it is kept. The bytes lie in rows of their own, numbered in order; `ends` says where each of them ends.

   Everything is filed under the user it belongs to: on a shared computer nobody sees or sends another child's takes. */

import { Sha256 } from "./sha256.js";

const NAME = "bandroom-takes";
const VERSION = 1;
const RESERVE = ["reserve", 0];
const RESERVED_BYTES = 512 * 1024;
const COPIED_AT_ONCE = 1024 * 1024;
const CHANNEL = "BroadcastChannel" in globalThis ? new BroadcastChannel(NAME) : null;

let opened = null;

export class EmptyTake extends Error {}

function open() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("takes", { keyPath: "id" }).createIndex("user", "user");
      request.result.createObjectStore("chunks", { keyPath: ["take", "n"] });
      request.result.createObjectStore("presses", { keyPath: ["user", "assignment"] });
    };
    request.onsuccess = () => {
      // A later version in another tab must not wait for this one; the next call opens again.
      request.result.onversionchange = () => {
        request.result.close();
        opened = null;
      };
      request.result.onclose = () => (opened = null);
      resolve(request.result);
    };
    request.onerror = () => {
      opened = null;
      reject(request.error);
    };
  });
  return opened;
}

/** Runs `work(...stores)` in one transaction; resolves with the result of the request it returns, once all is on disk. */
async function transact(names, mode, work) {
  const database = await open();
  return new Promise((resolve, reject) => {
    const transaction = database.transaction(names, mode, { durability: "strict" });
    const request = work(...names.map((name) => transaction.objectStore(name)));
    transaction.oncomplete = () => resolve(request?.result);
    transaction.onabort = () => reject(transaction.error ?? request?.error ?? new DOMException("Stopped", "AbortError"));
  });
}

/** As transact, for the small rows that say how a take stands: on a full phone they take the room kept for them. */
async function write(names, work) {
  try {
    return await transact(names, "readwrite", work);
  } catch (error) {
    if (!isFull(error)) throw error;
    await transact(["chunks"], "readwrite", (chunks) => chunks.delete(RESERVE));
    return transact(names, "readwrite", work);
  }
}

/** Keeps some room, so that a take that filled the phone can still be finished, turned in and sent. */
async function reserve() {
  if (await transact(["chunks"], "readonly", (chunks) => chunks.getKey(RESERVE))) return;
  const bytes = new Uint8Array(RESERVED_BYTES); // of noise: the browser would press zeros to nothing
  for (let at = 0; at < bytes.length; at += 65_536) crypto.getRandomValues(bytes.subarray(at, at + 65_536));
  await transact(["chunks"], "readwrite", (chunks) => chunks.put({ take: RESERVE[0], n: RESERVE[1], bytes: bytes.buffer }));
}

const chunksOf = (take) => IDBKeyRange.bound([take, 0], [take, Infinity]);

/** Tells this tab's listeners and other tabs' that a take changed. */
const listeners = new Set();

export function onChange(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

function changed(user, id) {
  for (const listener of listeners) listener({ user, id });
  CHANNEL?.postMessage({ user, id });
}

CHANNEL?.addEventListener("message", ({ data }) => {
  for (const listener of listeners) listener(data);
});

export function newTakeId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16)); // a page without HTTPS
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

/** Whether an error of this module means that the phone has no room left. */
export function isFull(error) {
  return error?.name === "QuotaExceededError";
}

/** A new, empty take. Rejects with isFull(error) where the phone has no room even to begin. */
export async function startTake({
  id = newTakeId(),
  user,
  assignment,
  lines,
  origin = "recorder",
  mime = "",
  recordedAt = Date.now(),
  leadSeconds = null,
  tempos = {},
  state = "recording",
}) {
  const take = {
    ...{ id, user, assignment, lines, origin, mime, recordedAt, leadSeconds, tempos, state },
    ...{ seconds: null, bytes: 0, sha256: null, ends: [], sent: 0, says: "", declared: false },
  };
  await reserve();
  await write(["takes"], (takes) => takes.add(take));
  changed(user, id);
  return take;
}

/** One piece of a recording, safe on the disk when it resolves. Rejects with isFull(error) where there is no room. */
export async function addChunk(take, n, blob) {
  const bytes = blob instanceof Blob ? await blob.arrayBuffer() : blob;
  await transact(["chunks"], "readwrite", (chunks) => chunks.put({ take, n, bytes }));
}

export async function changeTake(user, id, fields) {
  let take = null;
  await write(["takes"], (takes) => {
    takes.get(id).onsuccess = ({ target }) => {
      if (target.result?.user !== user) return;
      take = { ...target.result, ...fields };
      takes.put(take);
    };
  });
  if (take) changed(user, id);
  return take;
}

/** The recording is over: counts and hashes what is there. Throws EmptyTake, and forgets it, where nothing is. */
export async function finishTake(user, id, { seconds = null, cut = false } = {}) {
  const keys = await transact(["chunks"], "readonly", (chunks) => chunks.getAllKeys(chunksOf(id)));
  const hash = new Sha256();
  const ends = [];
  for (const key of keys) {
    const chunk = await transact(["chunks"], "readonly", (chunks) => chunks.get(key));
    hash.add(new Uint8Array(chunk.bytes));
    ends.push({ n: chunk.n, end: hash.length });
  }
  if (hash.length === 0) {
    await forget(user, id);
    throw new EmptyTake("Nothing was recorded.");
  }
  const bytes = hash.length;
  return changeTake(user, id, { state: "kept", seconds, cut, bytes, sha256: hash.hex(), ends });
}

/** A file from elsewhere, copied here so that a reload loses nothing. Throws EmptyTake for an empty one. */
export async function keepFile({ user, assignment, lines, file }) {
  const take = await startTake({
    ...{ user, assignment, lines, origin: "file", mime: file.type, state: "copying" },
    recordedAt: file.lastModified || Date.now(),
  });
  const release = holdRecording(take.id);
  try {
    for (let n = 0; n * COPIED_AT_ONCE < file.size; n += 1) {
      await addChunk(take.id, n, file.slice(n * COPIED_AT_ONCE, (n + 1) * COPIED_AT_ONCE));
    }
    await changeTake(user, take.id, { name: file.name });
    return await finishTake(user, take.id);
  } catch (error) {
    await forget(user, take.id);
    throw error;
  } finally {
    release();
  }
}

const lockOf = (id) => `bandroom-recording-${id}`;

/** Tells other tabs that this one records the take; call what it returns when that is over. */
export function holdRecording(id) {
  let release = () => {};
  navigator.locks?.request(lockOf(id), () => new Promise((resolve) => (release = resolve)));
  let over = false;
  return () => {
    if (over) return;
    over = true;
    // The lock may come a moment after it was asked for.
    navigator.locks?.query().then(() => release());
    release();
  };
}

/** Takes that a reload, a crash or a flat battery left unfinished: what was recorded is kept, half a copy is not. */
export async function recoverTakes(user) {
  const left = (await takesOf(user)).filter((take) => take.state === "recording" || take.state === "copying");
  const held = new Set(((await navigator.locks?.query())?.held ?? []).map((lock) => lock.name));
  const found = [];
  for (const take of left.filter((one) => !held.has(lockOf(one.id)))) {
    if (take.state === "copying") {
      await forget(user, take.id);
      continue;
    }
    try {
      found.push(await finishTake(user, take.id, { cut: true }));
    } catch (error) {
      if (!(error instanceof EmptyTake)) throw error;
    }
  }
  return found;
}

export async function takesOf(user, assignment = null) {
  const takes = await transact(["takes"], "readonly", (store) => store.index("user").getAll(user));
  return takes
    .filter((take) => assignment === null || take.assignment === assignment)
    .sort((one, other) => one.recordedAt - other.recordedAt);
}

export async function takeOf(user, id) {
  const take = await transact(["takes"], "readonly", (takes) => takes.get(id));
  return take?.user === user ? take : null;
}

/** The whole recording, to listen to; empty once the school has it. */
export async function blobOf(take) {
  const chunks = await transact(["chunks"], "readonly", (store) => store.getAll(chunksOf(take.id)));
  return new Blob(
    chunks.map((chunk) => chunk.bytes),
    { type: take.mime },
  );
}

/** Bytes `from` to `to` of a finished take, read from the rows that hold them and no others. */
export async function piece(take, from, to) {
  const first = take.ends.findIndex(({ end }) => end > from);
  const last = take.ends.findIndex(({ end }) => end >= to);
  const range = IDBKeyRange.bound([take.id, take.ends[first].n], [take.id, take.ends[last].n]);
  const chunks = await transact(["chunks"], "readonly", (store) => store.getAll(range));
  const begins = first ? take.ends[first - 1].end : 0;
  const whole = new Blob(chunks.map((chunk) => chunk.bytes));
  if (whole.size !== take.ends[last].end - begins) throw new DOMException("This phone lost a part of it.", "DataError");
  return whole.slice(from - begins, to - begins);
}

/** The school has the whole file: lets go of the bytes here. Nothing else does. */
export async function letGo(user, id) {
  await transact(["chunks"], "readwrite", (chunks) => chunks.delete(chunksOf(id)));
  return changeTake(user, id, { state: "received", ends: [], says: "" });
}

/** A take the student does not want. Refused (false) once it was announced to the school. */
export async function dropTake(user, id) {
  const take = await takeOf(user, id);
  if (!take || take.declared || take.state === "queued") return false;
  await forget(user, id);
  return true;
}

async function forget(user, id) {
  await transact(["takes", "chunks"], "readwrite", (takes, chunks) => {
    takes.delete(id);
    chunks.delete(chunksOf(id));
  });
  changed(user, id);
}

/** A student pressed "turn in": kept until the school has said yes or no. */
export async function putPress(press) {
  await write(["presses"], (presses) => presses.put(press));
}

export async function pressesOf(user) {
  const presses = await transact(["presses"], "readonly", (store) => store.getAll());
  return presses.filter((press) => press.user === user);
}

/** Removes this press, but not a newer one that was made meanwhile. */
export async function dropPress({ user, assignment, pressedAt }) {
  await transact(["presses"], "readwrite", (presses) => {
    presses.get([user, assignment]).onsuccess = ({ target }) => {
      if (target.result?.pressedAt === pressedAt) presses.delete([user, assignment]);
    };
  });
}

/** Asks the browser not to clear takes away when the phone's storage runs low. */
export async function askToKeep() {
  return (await navigator.storage?.persist?.()) ?? false;
}

/** Bytes that may still be stored here, null where the browser does not say. */
export async function roomLeft() {
  const { quota, usage } = (await navigator.storage?.estimate?.()) ?? {};
  return quota === undefined ? null : quota - usage;
}
