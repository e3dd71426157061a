// Service worker: caches the page and the packs that were opened, so that map and checklist can
// be read in a studio without a network. The network comes first and the cache answers only when
// it does not, so nothing is stale after an update. Photos are never cached.

const SHELL = "ricalco-shell";
/** The page fills it too: js/api/offline-cache.js. */
const PACKS = "ricalco-packs";

/** The list of the page's files, made by the service. */
const LIST = "/files.json";
/** Those of them that are needed without a network: not those of frames (js/embed). */
const PAGE_FILE = /^\/(?!.*embed)(?:manifest\.webmanifest|icons\/icon\.svg|(?:css|fonts|js|words)\/.+\.(?:css|js|json|woff2))$/;

/** A pack's document, map, picture and file; its events and single sheets are not cached. */
const KEPT = /^\/v1\/packs\/[^/]+(\/(map\.png|picture\.jpg|thumbnail\.jpg|pack\.pdf))?$/;

/** A connection that stays silent this long is answered from the cache. */
const PATIENCE_MS = 3000;
/** Answers after which a pack is removed from the cache: no access, or deleted. */
const REFUSED = new Set([401, 403, 404, 410]);
/** Counts how often the cache of packs was cleared; an answer requested before that is not cached. */
let forgotten = 0;
/** How long a silent connection is not waited for again, unless an answer comes. */
const SILENCE_MS = 20_000;
let silentUntil = 0;

/** Names of sizes, for the checklist without a network. */
const NAMES = /^\/v1\/(sheet-formats|supports)$/;

self.addEventListener("install", (event) => {
  self.skipWaiting();
  // What is deleted as the page goes (js/api/deletions.js) would be lost while this worker starts.
  event.waitUntil(event.addRoutes?.({ condition: { requestMethod: "DELETE" }, source: "network" }).catch(() => {}));
  event.waitUntil(caches.open(SHELL).then(async (cache) => {
    const { files } = await (await fetch(LIST)).json();
    await cache.addAll(["/", ...files.filter((address) => PAGE_FILE.test(address))]);
    // The page requested these before the worker could cache the answer.
    await cache.add("/v1/sheet-formats").catch(() => {});
  }));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(self.clients.claim());
});

/** The page clears the cache when the person changes: js/api/offline-cache.js. */
self.addEventListener("message", (event) => {
  if (event.data !== "forget") return;
  forgotten += 1;
  event.waitUntil(caches.delete(PACKS));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin || request.headers.has("Range")) return;
  // A frame asks with a token: its answers are not for the next person here.
  if (request.headers.has("Authorization")) return;
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
  // A failure before the cache has answered is handled below, not as an unhandled rejection.
  coming.catch(() => {});
  const kept = await keptAnswer(request, name);
  if (!kept) return coming;
  // The wait happens once, not for each file of the page.
  const patienceMs = Date.now() < silentUntil ? 0 : PATIENCE_MS;
  return Promise.race([coming.catch(() => kept), after(patienceMs).then(() => {
    if (!heard && patienceMs > 0) silentUntil = Date.now() + SILENCE_MS;
    return kept;
  })]);
}

/** The cached answer, unless its retention has ended: the stated time applies on the device too. */
async function keptAnswer(request, name) {
  const kept = await caches.match(request, { cacheName: name });
  if (!kept || name !== PACKS) return kept;
  const document = await caches.match(packOf(request), { cacheName: PACKS });
  const { delete_after: until = null } = document ? await document.json() : { delete_after: 0 };
  if (until === null || Date.now() < new Date(until).getTime()) return kept;
  await dropPack(request);
  return undefined;
}

/** Cache an answer; a refused pack is removed from the cache. */
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

/** Cache an answer, but no pack that is still being made: without a network it would never end. */
async function keep(request, copy, name, since) {
  const document = name === PACKS && copy.headers.get("Content-Type")?.startsWith("application/json");
  if (document && (await copy.clone().json()).state !== "ready") return;
  const cache = await caches.open(name);
  // The shelf shows many packs that were never opened here: no thumbnail is kept without its pack.
  if (request.url.endsWith("/thumbnail.jpg") && !(await cache.match(packOf(request)))) return;
  await cache.put(request, copy);
  if (name === PACKS && since !== forgotten) await caches.delete(PACKS);
}

/** The path of the pack that a request belongs to. */
function packOf(request) {
  return new URL(request.url).pathname.split("/").slice(0, 4).join("/");
}

/** Remove one pack from the cache: document, map, picture and file. */
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
