// Keeps the page and the packs already fetched, so that map and checklist can be read in a
// studio without a network. The network always comes first: what is kept is an answer only
// where none comes, so nothing is ever stale after an update. Photos are never kept.

const SHELL = "ricalco-shell";
/** Filled by the page too: js/api/offline-cache.js. */
const PACKS = "ricalco-packs";

/** Which files the page is made of; the service answers with what is there. */
const LIST = "/files.json";
/** What of them is needed without a network. */
const PAGE_FILE = /^\/(?:manifest\.webmanifest|icons\/icon\.svg|(?:css|fonts|js|words)\/.+\.(?:css|js|json|woff2))$/;

/** A pack's document, map and file; its events and single sheets are for the network alone. */
const KEPT = /^\/v1\/packs\/[^/]+(\/(map\.png|picture\.jpg|pack\.pdf))?$/;

/** A line may be there and nothing come over it: then what is kept is shown after this. */
const PATIENCE_MS = 3000;
/** What has no right to be kept any more: not theirs, or not there. */
const REFUSED = new Set([401, 403, 404, 410]);
/** How often everything was forgotten: what was on its way then is not kept. */
let forgotten = 0;
/** For so long the line then counts as silent, unless an answer does come. */
const SILENCE_MS = 20_000;
let silentUntil = 0;

/** What sizes are called, so that the checklist names the sheets also without a network. */
const NAMES = /^\/v1\/(sheet-formats|supports)$/;

self.addEventListener("install", (event) => {
  self.skipWaiting();
  event.waitUntil(caches.open(SHELL).then(async (cache) => {
    const { files } = await (await fetch(LIST)).json();
    await cache.addAll(["/", ...files.filter((address) => PAGE_FILE.test(address))]);
    // The page has asked for these before there was anybody here to keep the answer.
    await cache.add("/v1/sheet-formats").catch(() => {});
  }));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(self.clients.claim());
});

/** The page forgets whoever was here: js/keep.js. */
self.addEventListener("message", (event) => {
  if (event.data !== "forget") return;
  forgotten += 1;
  event.waitUntil(caches.delete(PACKS));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin || request.headers.has("Range")) return;
  if (request.mode === "navigate" && address.pathname === "/") event.respondWith(networkFirst("/", SHELL));
  else if (PAGE_FILE.test(address.pathname)) event.respondWith(networkFirst(request, SHELL));
  else if (NAMES.test(address.pathname)) event.respondWith(networkFirst(request, SHELL));
  else if (KEPT.test(address.pathname)) event.respondWith(networkFirst(request, PACKS));
});

async function networkFirst(request, name) {
  let heard = false;
  const since = forgotten;
  const coming = fetch(request).then((answer) => noted(request, answer, name, since)).finally(() => {
    heard = true;
  });
  // A line that fails while we look is told below, and not as a fault of nobody's.
  coming.catch(() => {});
  const kept = await keptAnswer(request, name);
  if (!kept) return coming;
  // Waited for once, and not again for each part of the page.
  const patienceMs = Date.now() < silentUntil ? 0 : PATIENCE_MS;
  return Promise.race([coming.catch(() => kept), after(patienceMs).then(() => {
    if (!heard && patienceMs > 0) silentUntil = Date.now() + SILENCE_MS;
    return kept;
  })]);
}

/** What is kept, unless its time is over: photos of people are kept for a stated time here too. */
async function keptAnswer(request, name) {
  const kept = await caches.match(request, { cacheName: name });
  if (!kept || name !== PACKS) return kept;
  const document = await caches.match(packOf(request), { cacheName: PACKS });
  const { delete_after: until = null } = document ? await document.json() : { delete_after: 0 };
  if (until === null || Date.now() < new Date(until).getTime()) return kept;
  await dropPack(request);
  return undefined;
}

/** An answer is kept; what the service refuses to show is no longer kept either. */
async function noted(request, answer, name, since) {
  silentUntil = 0;
  if (answer.status === 200) {
    keep(request, answer.clone(), name, since).catch(() => {});
  } else if (name === PACKS && REFUSED.has(answer.status)) {
    await dropPack(request).catch(() => {});
  } else if (answer.status === 404) {
    caches.open(name).then((cache) => cache.delete(request)).catch(() => {});
  }
  return answer;
}

/** A pack that is still being made is not kept: without a network it would be made for ever. */
async function keep(request, copy, name, since) {
  const document = name === PACKS && copy.headers.get("Content-Type")?.startsWith("application/json");
  if (document && (await copy.clone().json()).state !== "ready") return;
  const cache = await caches.open(name);
  await cache.put(request, copy);
  if (name === PACKS && since !== forgotten) await caches.delete(PACKS);
}

/** The address of a pack's document, of any of its files. */
function packOf(request) {
  return new URL(request.url).pathname.split("/").slice(0, 4).join("/");
}

/** Forget one pack: its document, its map, its file. */
async function dropPack(request) {
  const cache = await caches.open(PACKS);
  const pack = packOf(request);
  const all = await cache.keys();
  await Promise.all(all.filter((one) => packOf(one) === pack).map((one) => cache.delete(one)));
}

function after(ms) {
  return new Promise((resolve) => {
    setTimeout(resolve, ms);
  });
}
