// What is kept on this device to be read in a studio without a network: the pack's document
// and its map, put there by the page itself, and opened packs, put there by the service worker.

/** The cache that sw.js answers from; the name stands there too. */
export const PACKS = "ricalco-packs";

/** Keep a pack's document, its map and its picture. Without a cache (private windows) nothing is kept. */
export async function keepPack(id) {
  try {
    const cache = await caches.open(PACKS);
    await cache.addAll(["", "/map.png", "/picture.jpg"].map((part) => `/v1/packs/${id}${part}`));
  } catch {
    // It is a convenience: the pack is at the service all the same.
  }
}

/** Forget one pack. */
export async function dropPack(id) {
  try {
    const cache = await caches.open(PACKS);
    const kept = await cache.keys();
    await Promise.all(kept.filter(({ url }) => url.includes(`/v1/packs/${id}`)).map((one) => cache.delete(one)));
  } catch {
    // Nothing was kept.
  }
}

/** Forget the packs that were made from a photo: their maps show it. */
export async function dropPacksOf(referenceId) {
  try {
    for (const { id, links } of await keptPacks()) {
      if (links.reference.endsWith(`/${referenceId}`)) await dropPack(id);
    }
  } catch {
    // Nothing was kept.
  }
}

/** Forget the packs whose time is over: here they are kept no longer than at the service. */
export async function dropExpired() {
  try {
    for (const { id, delete_after: until } of await keptPacks()) {
      if (until && new Date(until).getTime() <= Date.now()) await dropPack(id);
    }
  } catch {
    // Nothing was kept.
  }
}

/** Ask after every pack that is kept, so that those go which are not for whoever is here now. */
export async function dropForeign() {
  try {
    for (const { id } of await keptPacks()) {
      const { status } = await fetch(`/v1/packs/${id}`, { cache: "no-store" });
      if ([401, 403, 404].includes(status)) await dropPack(id);
    }
  } catch {
    // Without an answer nobody else is here.
  }
}

async function keptPacks() {
  const cache = await caches.open(PACKS);
  const documents = (await cache.keys()).filter(({ url }) => /\/v1\/packs\/[^/]+$/.test(url));
  return Promise.all(documents.map(async (one) => (await cache.match(one)).json()));
}

/** Forget every pack that is kept here, and what is just on its way. */
export async function forgetPacks() {
  globalThis.navigator?.serviceWorker?.controller?.postMessage("forget");
  await globalThis.caches?.delete(PACKS);
}

/** Whether the service answers just now. */
export async function reachable() {
  try {
    return (await fetch("/healthz", { cache: "no-store" })).ok;
  } catch {
    return false;
  }
}
