/* Requests to our own server.

   send(url, {method = "POST", body, headers, signal, timeout = 20000}) -> Promise<Response>
     Adds the CSRF token, never follows a redirect (a sign-in page is no answer), never uses a cache, ends after
     `timeout` milliseconds. A plain object as body goes as JSON. Resolves with an answer of status 200 to 299 only.
   SendError: .kind is "offline" (no network, or the server cannot be reached), "timeout", "signed-out" (the server
     redirected), "refused" (an answer of 400 or more; .response holds it) or "stopped" (the caller's signal).
     .message is a sentence a person can read. */

const SENTENCES = {
  offline: "No connection right now. Nothing is lost; try again when you’re online.",
  timeout: "The school’s server did not answer in time. Try again.",
  "signed-out": "You have been signed out. Sign in again in another tab, then try again here.",
  stopped: "Stopped.",
};

export class SendError extends Error {
  constructor(kind, { response = null, cause } = {}) {
    super(SENTENCES[kind] ?? `The server refused this (${response?.status}). Reload the page and try again.`, { cause });
    this.name = "SendError";
    this.kind = kind;
    this.response = response;
  }
}

export function csrfToken() {
  return document.querySelector('meta[name="csrf-token"]')?.content ?? "";
}

export async function send(url, { method = "POST", body, headers = {}, signal, timeout = 20_000 } = {}) {
  const limit = AbortSignal.timeout(timeout);
  const all = new Headers(headers);
  all.set("X-CSRFToken", csrfToken());
  const isPlain = body !== null && typeof body === "object" && Object.getPrototypeOf(body) === Object.prototype;
  if (isPlain) all.set("Content-Type", "application/json");
  let response;
  try {
    response = await fetch(url, {
      method,
      headers: all,
      body: isPlain ? JSON.stringify(body) : body,
      // "manual", not "error": the browser stops as early, but tells a redirect from a dead network
      redirect: "manual",
      credentials: "same-origin",
      cache: "no-store",
      signal: signal ? AbortSignal.any([signal, limit]) : limit,
    });
  } catch (cause) {
    if (limit.aborted) throw new SendError("timeout", { cause });
    throw new SendError(signal?.aborted ? "stopped" : "offline", { cause });
  }
  if (response.type === "opaqueredirect") throw new SendError("signed-out");
  if (!response.ok) throw new SendError("refused", { response });
  return response;
}
