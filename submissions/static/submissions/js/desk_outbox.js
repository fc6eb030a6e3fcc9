/* What was given on this page and is not on the server yet. Nothing of it is lost: it stays in the page, and in the
   tab's storage, until a receipt comes; it is sent again by itself.

   createOutbox(report) -> { put(id, url, fields, {delay}), drop(prefix), waiting(prefix), settled(prefix) }
     fields.seen says what the page showed before; each receipt {saved} becomes the next `seen`.
     report(id, state, answer): state is "sending", "saved", "kept" (no answer yet, tried again later) or "refused".
   `id` begins with the sheet it belongs to, so that the next student's page can send what this one could not. */

import { csrfToken, send } from "../../bandroom/js/csrf.js";

const STORE = "bandroom.desk.outbox";
const FIRST_WAIT = 2000;
const LONGEST_WAIT = 30_000;
// answers after which sending the same again cannot help
const FINAL = new Set([404, 409, 422]);

function stored() {
  try {
    return Object.entries(JSON.parse(sessionStorage.getItem(STORE) ?? "{}"));
  } catch {
    return []; // storage is refused or broken: the page itself still holds everything
  }
}

export function createOutbox(report) {
  const entries = new Map(stored());
  const flying = new Map();
  const timers = new Map();
  let wait = FIRST_WAIT;

  function store() {
    try {
      if (entries.size) sessionStorage.setItem(STORE, JSON.stringify(Object.fromEntries(entries)));
      else sessionStorage.removeItem(STORE);
    } catch {
      // no room or no permission
    }
  }

  function later(id, after) {
    clearTimeout(timers.get(id));
    timers.set(id, setTimeout(() => flush(id), after));
  }

  function flush(id) {
    clearTimeout(timers.get(id));
    if (!flying.has(id) && entries.has(id)) {
      flying.set(id, deliver(id).finally(() => flying.delete(id)));
    }
    return flying.get(id);
  }

  async function deliver(id) {
    while (entries.has(id)) {
      const { url, fields } = entries.get(id);
      const sent = JSON.stringify({ ...fields, seen: "" });
      report(id, "sending");
      let answer;
      try {
        const response = await send(url, { body: new URLSearchParams(fields), headers: { "X-Requested-With": "bandroom" } });
        answer = await response.json();
      } catch (error) {
        const final = FINAL.has(error.response?.status);
        if (final) {
          entries.delete(id);
          store();
          report(id, "refused", await error.response.json().catch(() => ({ sentence: error.message })));
          return;
        }
        report(id, "kept", { sentence: sentenceOf(error) });
        later(id, wait);
        wait = Math.min(wait * 2, LONGEST_WAIT);
        return;
      }
      wait = FIRST_WAIT;
      const now = entries.get(id);
      if (now && JSON.stringify({ ...now.fields, seen: "" }) !== sent) {
        now.fields.seen = answer.saved; // changed while it was on its way: the receipt is what it changes from
        store();
        continue;
      }
      entries.delete(id);
      store();
      report(id, "saved", answer);
    }
  }

  function put(id, url, fields, { delay = 0 } = {}) {
    const old = entries.get(id);
    // what was not saved yet still changes the mark that the server has
    entries.set(id, { url, fields: old && "seen" in fields ? { ...fields, seen: old.fields.seen } : fields });
    store();
    if (delay) later(id, delay);
    else flush(id);
  }

  const idsOf = (prefix) => [...entries.keys()].filter((id) => id.startsWith(prefix));

  addEventListener("online", () => {
    wait = FIRST_WAIT;
    for (const id of entries.keys()) flush(id);
  });

  addEventListener("pagehide", () => {
    for (const [id, { url, fields }] of entries) {
      if (flying.has(id)) continue;
      navigator.sendBeacon(url, new URLSearchParams({ ...fields, csrfmiddlewaretoken: csrfToken() }));
    }
  });

  return {
    put,
    entries: (prefix) => idsOf(prefix).map((id) => [id, entries.get(id).fields]),
    waiting: (prefix = "") => idsOf(prefix).length,
    flushAll: () => Promise.all([...entries.keys()].map(flush)),
    settled: (prefix) => Promise.all([...flying].filter(([id]) => id.startsWith(prefix)).map(([, work]) => work)),
    drop(prefix) {
      for (const id of idsOf(prefix)) {
        clearTimeout(timers.get(id));
        entries.delete(id);
      }
      store();
    },
  };
}

function sentenceOf(error) {
  if (error.response?.status === 401 || error.kind === "signed-out") {
    return "You have been signed out. Sign in again in another tab; what you gave here is kept and sent then.";
  }
  if (error.response?.status === 403) return "The server wants this page opened again; what you gave here is kept.";
  return "No connection. What you gave is kept on this page and sent when it is back.";
}
