/* The service worker: a student's pages, the part and the recorder open without a network.

   ORDERS come from the server (submissions.working.offline):
     release   changes with any part;   parts    scripts, styles and fonts the pages are built of
     hashed    whether their names change with their content
     pages     the addresses that may be kept, with what follows a "?", a pattern
     home, work    "/" leads to the student's work
     doors     addresses where somebody signs in or out;   language   the address of the switch of the language
     notHere   the page shown for one that was not kept, by language

   Never kept: sound, uploads, anything posted, pages of staff, redirects, a sign-in page. A page is kept where the server
   names the student it was made for, in a header no other page has, and under that student alone, in one language. */

const STUDENT = "Bandroom-Student";
const SHARED = "Bandroom-Shared";
const KEEPING = "Bandroom-Keeping";
const { release, parts, hashed, statics, home, work, doors, language, notHere } = self.ORDERS;
const pages = new RegExp(self.ORDERS.pages);

const PARTS = `bandroom-parts-${release}`;
const PAGES = "bandroom-pages-";
const WHO = "bandroom-who";
// On a line that is worse than none, what was kept is shown after so long; the network goes on trying.
const PATIENCE_MS = 4000;
// Two pieces of work with every step and line of theirs, about a megabyte; the rest comes when it is opened.
const MOST_AHEAD = 30;
const FRESH_MS = 60 * 60 * 1000;

// Counts who came and went, so that an answer still on its way then is not kept for whoever was before.
let turn = 0;

self.addEventListener("install", (event) => {
  event.waitUntil(install());
  self.skipWaiting();
});

async function install() {
  const cache = await caches.open(PARTS);
  const fetched = parts.map((url) => new Request(url, { cache: hashed ? "default" : "no-cache" }));
  const pages = Object.values(notHere).map((url) => new Request(url, { credentials: "omit", cache: "no-cache" }));
  await cache.addAll([...fetched, ...pages]);
}

self.addEventListener("activate", (event) => {
  event.waitUntil(activate());
});

async function activate() {
  for (const name of await caches.keys()) {
    if (name.startsWith("bandroom-parts-") && name !== PARTS) await caches.delete(name);
  }
  await self.clients.claim();
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname, search } = new URL(request.url);
  if (origin !== self.location.origin) return;
  if (request.method === "POST" && doors.includes(pathname)) {
    turn += 1;
    event.waitUntil(forget());
  }
  if (request.method === "POST" && pathname === language) event.respondWith(switched(request));
  if (request.method !== "GET" || request.headers.has("Range")) return;
  if (request.mode === "navigate") {
    if (pages.test(pathname + search)) event.respondWith(page(event, pathname + search));
    else if (pathname === home) event.respondWith(fetch(request).catch(() => Response.redirect(work)));
  } else if (pathname.startsWith(statics)) event.respondWith(part(event));
});

self.addEventListener("message", (event) => {
  const { keep: path } = event.data ?? {};
  if (typeof path === "string" && pages.test(path)) event.waitUntil(ahead([path]));
});

async function page(event, path) {
  const now = turn;
  const both = fetch(event.request).then((response) => [response, response.clone()]);
  event.waitUntil(both.then(([, copy]) => keep(path, copy, now)).then(ahead).catch(() => {}));
  const network = both.then(([response]) => response);
  const patience = new Promise((over) => setTimeout(over, PATIENCE_MS));
  try {
    const response = await Promise.race([network, patience.then(() => kept(path)).then((copy) => copy ?? network)]);
    return response.status >= 500 ? ((await kept(path)) ?? response) : response;
  } catch {
    return (await kept(path)) ?? notKept();
  }
}

async function notKept() {
  const spoken = [(await present())?.language, ...self.navigator.languages.map((name) => name.slice(0, 2)), "en"];
  return (await caches.match(notHere[spoken.find((name) => name in notHere)])) ?? Response.error();
}

/** Pages in the language before are forgotten once the server knows the new one; without a network nothing is. */
async function switched(request) {
  try {
    const response = await fetch(request);
    turn += 1;
    await forget();
    return response;
  } catch {
    return notKept();
  }
}

/** @returns the addresses of pages this one leads to */
async function keep(path, response, now) {
  const student = response.headers.get(STUDENT);
  if (now !== turn || !student || response.status !== 200 || response.redirected || response.type !== "basic") return [];
  const spoken = response.headers.get("Content-Language");
  await become({ student, shared: response.headers.has(SHARED), language: spoken });
  const text = await response.clone().text();
  if (now !== turn) return [];
  const cache = await caches.open(PAGES + student);
  await cache.put(path, response);
  const links = [...text.matchAll(/href="([^"#]+)"/g)].map(([, link]) => new URL(link, self.location.origin + path));
  return [...new Set(links.map(({ pathname, search }) => pathname + search).filter((link) => pages.test(link)))];
}

/** Fetches pages the student is likely to open next, and what these lead to, unless they were kept a short while ago. */
async function ahead(paths) {
  const now = turn;
  const seen = new Set();
  const waiting = [...paths];
  while (waiting.length && seen.size < MOST_AHEAD && now === turn) {
    const path = waiting.shift();
    if (seen.has(path) || (await isFresh(path))) continue;
    seen.add(path);
    const response = await fetch(path, { headers: { [KEEPING]: "yes" }, redirect: "manual", cache: "no-store" });
    waiting.push(...(await keep(path, response, now)));
  }
}

async function isFresh(path) {
  const copy = await kept(path);
  return Boolean(copy) && Date.now() - Date.parse(copy.headers.get("Date")) < FRESH_MS;
}

async function kept(path) {
  const who = await present();
  return who ? (await caches.open(PAGES + who.student)).match(path, { ignoreVary: true }) : undefined;
}

/** Whose pages may be shown. On a shared computer nobody's once all windows were closed: the sign-in ended with them. */
async function present() {
  const noted = await caches.match("/who", { cacheName: WHO });
  const who = noted ? await noted.json() : null;
  if (!who?.shared) return who;
  const windows = await self.clients.matchAll({ type: "window", includeUncontrolled: true });
  if (windows.length) return who;
  await forget();
  return null;
}

async function become(who) {
  const before = await present();
  if (before && Object.keys(who).every((name) => before[name] === who[name])) return;
  await forget();
  const cache = await caches.open(WHO);
  await cache.put("/who", Response.json(who));
}

async function forget() {
  for (const name of await caches.keys()) {
    if (name.startsWith(PAGES) || name === WHO) await caches.delete(name);
  }
}

async function part(event) {
  const { request } = event;
  const cache = await caches.open(PARTS);
  const found = await cache.match(request, { ignoreVary: true });
  if (hashed && found) return found;
  try {
    const response = await fetch(request);
    if (response.ok && response.type === "basic") event.waitUntil(cache.put(request, response.clone()).catch(() => {}));
    return response;
  } catch {
    return found ?? Response.error();
  }
}
