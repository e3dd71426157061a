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
    const cache = await caches.open(PACKS);
    const documents = (await cache.keys()).filter(({ url }) => /\/v1\/packs\/[^/]+$/.test(url));
    for (const request of documents) {
      const { id, links } = await (await cache.match(request)).json();
      if (links.reference.endsWith(`/${referenceId}`)) await dropPack(id);
    }
  } catch {
    // Nothing was kept.
  }
}

/** Forget every pack that is kept here. */
export async function forgetPacks() {
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
