// Keeps the page where there is no signal. The server writes VERSION and FILES above this line.
//
// The page's own files come from one set, all of one version: the set of this worker while the
// server says it still serves that version or says nothing, and the server itself otherwise. Of the
// answers those that change nothing are asked for first and kept for when nobody answers.

/* global VERSION, FILES */

const SHELL = `bondwright-shell-${VERSION}`;
const ANSWERS = "bondwright-answers";
const KEPT = ["/api/site", "/api/picture", "/api/tables", "/api/hunt/form", "/api/lessons"];
const PATIENCE_MS = 4000;

/** Windows that were loaded from a newer server than this worker. */
const newer = new Set();

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const shell = await caches.open(SHELL);
    await shell.addAll(FILES.map((file) => new Request(file, { cache: "reload" })));
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("bondwright-shell-") && name !== SHELL) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

// The page asks for what it needs without a line, once it stands.
self.addEventListener("message", (event) => {
  const { keep } = event.data ?? {};
  if (!Array.isArray(keep)) return;
  event.waitUntil((async () => {
    const answers = await caches.open(ANSWERS);
    for (const address of keep) {
      try {
        const answer = await fetch(address);
        if (answer.ok) await answers.put(address, answer);
      } catch {
        // Nobody answers: what was kept before stays.
      }
    }
    event.source?.postMessage({ kept: VERSION });
  })());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate" && address.pathname === "/") event.respondWith(page(event));
  else if (FILES.includes(address.pathname)) event.respondWith(file(event, address.pathname));
  else if (KEPT.some((start) => address.pathname === start || address.pathname.startsWith(`${start}/`))) event.respondWith(answer(request));
});

/** @param {RequestInfo} request */
async function inTime(request) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), PATIENCE_MS);
  try {
    return await fetch(request, { signal: stop.signal });
  } finally {
    clearTimeout(timer);
  }
}

/** @param {FetchEvent} event */
async function page(event) {
  try {
    const found = await inTime(event.request);
    if (found.headers.get("x-bondwright-version") !== VERSION) {
      newer.add(event.resultingClientId);
      return found;
    }
  } catch {
    // Nobody answers.
  }
  return kept("/");
}

/** @param {FetchEvent} event @param {string} path */
async function file(event, path) {
  if (!newer.has(event.clientId)) return kept(path);
  return fetch(event.request);
}

/** @param {string} path */
async function kept(path) {
  const shell = await caches.open(SHELL);
  return (await shell.match(path)) ?? fetch(path);
}

/** @param {Request} request */
async function answer(request) {
  const answers = await caches.open(ANSWERS);
  try {
    const found = await inTime(request);
    if (found.ok) await answers.put(request.url, found.clone());
    return found;
  } catch (error) {
    const before = await answers.match(request.url);
    if (before) return before;
    throw error;
  }
}
