/* Keeps the pages of job sheets that were opened once, so that they open with no signal too.
   Pages come from the office when it answers; what is kept is only for when it does not. */
"use strict";
const SHELL = "trackside-shell-{{ version }}";
const PAGES = "trackside-pages";
const FILES = {{ files|safe }};
const SHEET = /^\/sheets\/[^/]+\/(work\/)?$/;
const PATIENCE_MS = 5000;

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches.open(SHELL).then((shell) => shell.addAll(FILES)).then(() => self.skipWaiting()),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const names = await caches.keys();
    const old = names.filter((name) => name.startsWith("trackside-shell-") && name !== SHELL);
    await Promise.all(old.map((name) => caches.delete(name)));
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate" && SHEET.test(address.pathname)) event.respondWith(page(request));
  else if (FILES.includes(address.pathname)) event.respondWith(file(request));
});

/* The page as the office gives it now; without an answer, or with the login run out, as kept. */
async function page(request) {
  const pages = await caches.open(PAGES);
  let answer = null;
  try {
    answer = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    if (answer.status === 200) await pages.put(request.url, answer.clone());
  } catch {
    answer = null;
  }
  if (answer && answer.status !== 0 && answer.status < 500 && answer.type !== "opaqueredirect") {
    return answer;
  }
  const kept = await pages.match(request.url, { ignoreSearch: true });
  return kept || answer || new Response(
    "No signal, and this sheet was not opened on this phone before. Use the paper sheet, or go "
      + "where there is signal and open it once.",
    { status: 503, headers: { "Content-Type": "text/plain; charset=utf-8" } },
  );
}

async function file(request) {
  return (await caches.match(request, { ignoreSearch: true })) || fetch(request);
}
