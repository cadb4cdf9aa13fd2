// Keeps the signed-in student's bench pages and what they need, for when there is no network.
//
// The network always comes first. Pages are kept only for the one who is signed in: signing in or
// out removes them. The queue of entries is not kept here but in the store of bench_store.js.
"use strict";

const FILES = `labcourse-files-${self.KEPT.version}`;
const PAGES = "labcourse-pages";
const PATIENCE_MS = 6000;
const BENCH = /^\/work\/[0-9a-f-]{36}\/bench\//;
const DOORS = ["/sign-in/", "/sign-out/"];

self.addEventListener("install", (event) => {
  event.waitUntil(keepFiles().then(() => self.skipWaiting()));
});

async function keepFiles() {
  const cache = await caches.open(FILES);
  await cache.addAll(self.KEPT.files.map((url) => new Request(url, {cache: "no-cache"})));
}

self.addEventListener("activate", (event) => {
  event.waitUntil(dropOldFiles().then(() => self.clients.claim()));
});

async function dropOldFiles() {
  for (const name of await caches.keys()) {
    if (name.startsWith("labcourse-files-") && name !== FILES) await caches.delete(name);
  }
}

self.addEventListener("message", (event) => {
  if (event.data?.keep) event.waitUntil(keepPages(event.data.keep));
});

async function keepPages(urls) {
  const cache = await caches.open(PAGES);
  for (const url of urls) {
    try {
      await keepPage(cache, url, await fetch(url, {cache: "no-store", redirect: "manual"}));
    } catch {
      return; // no network: what is kept stays
    }
  }
}

async function keepPage(cache, url, response) {
  if (response.ok && response.type === "basic") await cache.put(url, response);
  else if (response.status === 403 || response.status === 404 || response.type === "opaqueredirect") {
    await cache.delete(url);
  }
}

self.addEventListener("fetch", (event) => {
  const {request} = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method === "POST" && DOORS.includes(url.pathname)) {
    event.respondWith(throughDoor(request));
  } else if (request.mode === "navigate") {
    event.respondWith(request.method === "GET" ? page(request, url) : sentPage(request, url));
  } else if (request.method === "GET" && self.KEPT.files.includes(url.pathname)) {
    event.respondWith(fetch(request).catch(() => kept(FILES, request)));
  }
});

// Somebody comes or goes: nothing of the one before stays to be seen.
async function throughDoor(request) {
  await caches.delete(PAGES);
  try {
    return await fetch(request);
  } catch {
    return plainPage("There is no network: you are still signed in. Sign out again when it is back. Your pages were taken off this device.");
  }
}

async function page(request, url) {
  try {
    return await fetch(request, {signal: AbortSignal.timeout(PATIENCE_MS)});
  } catch {
    return await keptPage(url) ?? plainPage("There is no network. What you recorded stays on this device.");
  }
}

// A form with a page of its own that did not get through: its entry waits in the queue.
async function sentPage(request, url) {
  try {
    return await fetch(request);
  } catch {
    const bench = url.pathname.match(BENCH)?.[0];
    return await (bench && kept(PAGES, bench))
      ?? plainPage("There is no network: nothing was sent. Go back and try again later.");
  }
}

// The page itself, or the page of all forms, which opens the one that the address is about.
async function keptPage(url) {
  const bench = url.pathname.match(BENCH)?.[0];
  if (!bench) return null;
  return await kept(PAGES, url.pathname) ?? await kept(PAGES, `${bench}offline/`)
    ?? kept(PAGES, bench);
}

async function kept(name, request) {
  const cache = await caches.open(name);
  return cache.match(request);
}

async function plainPage(words) {
  const pages = await (await caches.open(PAGES)).keys();
  const bench = pages.map((one) => new URL(one.url).pathname).find((path) => path.endsWith("/bench/"));
  const link = bench ? `<p><a href="${bench}">To your bench record</a></p>` : "";
  const sheet = self.KEPT.files.find((file) => file.endsWith(".css"));
  const body = `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>No network · Labcourse</title>
<meta name="viewport" content="width=device-width, initial-scale=1"><link rel="stylesheet" href="${sheet}"></head>
<body><main><article class="sheet"><h1>No network</h1><p>${words}</p>${link}</article></main></body></html>`;
  return new Response(body, {status: 503, headers: {
    "Content-Type": "text/html; charset=utf-8",
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; base-uri 'none'"}});
}
