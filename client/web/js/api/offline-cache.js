// The cache of packs for a studio without a network: the page stores a pack's document, map and
// picture, the service worker stores the pack files that were opened.

import { frame } from "./access.js";

/** Name of the cache; sw.js has the same. */
export const PACKS = "ricalco-packs";
/** The picture of the grid that is kept, and what is known of it (kept-grid.js); the service has no such addresses. */
export const GRID = { document: "/kept/grid.json", picture: "/kept/grid.jpg" };

/** Cache a pack's document, map and picture; private windows have no cache, frames leave none. */
export async function keepPack(id) {
  if (frame) return;
  try {
    const cache = await caches.open(PACKS);
    await cache.addAll(["", "/map.png", "/picture.jpg", "/thumbnail.jpg"].map((part) => `/v1/packs/${id}${part}`));
  } catch {
    // The cache is a convenience: the service has the pack.
  }
}

/** Remove one pack from the cache. */
export async function dropPack(id) {
  try {
    const cache = await caches.open(PACKS);
    const kept = await cache.keys();
    await Promise.all(kept.filter(({ url }) => url.includes(`/v1/packs/${id}`)).map((one) => cache.delete(one)));
  } catch {
    // Nothing was cached.
  }
}

/** Remove the packs that were made from a photo: their maps show it. */
export async function dropPacksOf(referenceId) {
  try {
    await dropGrid((grid) => grid.referenceId === referenceId);
    for (const { id, links } of await keptPacks()) {
      if (links.reference.endsWith(`/${referenceId}`)) await dropPack(id);
    }
  } catch {
    // Nothing was cached.
  }
}

/** Remove the packs whose retention has ended: the stated time applies on the device too. */
export async function dropExpired() {
  try {
    await dropGrid(({ until }) => until && new Date(until).getTime() <= Date.now());
    for (const { id, delete_after: until } of await keptPacks()) {
      if (until && new Date(until).getTime() <= Date.now()) await dropPack(id);
    }
  } catch {
    // Nothing was cached.
  }
}

/** Remove the cached packs that the current person has no access to. */
export async function dropForeign() {
  try {
    await dropGrid(async ({ referenceId }) => {
      const { status } = await fetch(`/v1/references/${referenceId}`, { cache: "no-store" });
      return [401, 403, 404].includes(status);
    });
    for (const { id } of await keptPacks()) {
      const { status } = await fetch(`/v1/packs/${id}`, { cache: "no-store" });
      if ([401, 403, 404].includes(status)) await dropPack(id);
    }
  } catch {
    // Without an answer from the service the person is the same.
  }
}

/** Remove the kept grid if `applies` to it. @param {function(object): (boolean|Promise<boolean>)} applies */
async function dropGrid(applies) {
  const cache = await caches.open(PACKS);
  const document = await cache.match(GRID.document);
  if (document && await applies(await document.json())) {
    await Promise.all(Object.values(GRID).map((address) => cache.delete(address)));
  }
}

/** The documents of the packs that are kept, newest first. */
export async function keptDocuments() {
  try {
    return (await keptPacks()).sort((one, other) => Date.parse(other.created_at) - Date.parse(one.created_at));
  } catch {
    return [];
  }
}

async function keptPacks() {
  const cache = await caches.open(PACKS);
  const documents = (await cache.keys()).filter(({ url }) => /\/v1\/packs\/[^/]+$/.test(url));
  return Promise.all(documents.map(async (one) => (await cache.match(one)).json()));
}

/** Remove all packs from the cache, and those being downloaded. */
export async function forgetPacks() {
  try {
    globalThis.navigator?.serviceWorker?.controller?.postMessage("forget");
    await globalThis.caches?.delete(PACKS);
  } catch {
    // A browser that refuses storage has cached nothing.
  }
}

/** Whether the service answers. */
export async function reachable() {
  try {
    return (await fetch("/healthz", { cache: "no-store" })).ok;
  } catch {
    return false;
  }
}
