// The picture under a grid, kept on this device for an easel without a network: one at a time, in
// the cache that is cleared with the packs when another person takes the device.

import { frame } from "./access.js";
import { asJson, fetchOk, reference } from "./service.js";
import { dropExpired, GRID, PACKS } from "./offline-cache.js";

/** The picture as printed, large enough for one square alone. @returns {Promise<Blob>} */
export async function gridPicture(referenceId, spec, signal) {
  return (await fetchOk("/v1/grids/picture", asJson({ reference_id: referenceId, spec }, { signal }))).blob();
}

/** The two pages to print. @returns {Promise<Blob>} */
export async function gridPages(referenceId, spec, title) {
  const body = { reference_id: referenceId, spec, ...(title ? { title } : {}) };
  return (await fetchOk("/v1/grids", asJson(body))).blob();
}

/**
 * Keep a grid in place of the one before; frames keep nothing, and private windows have no cache.
 * @param {{key: string, referenceId: string, plan: object}} grid
 * @param {Blob} picture
 */
export async function keepGrid(grid, picture) {
  if (frame) return;
  try {
    const { delete_after: until = null } = await reference(grid.referenceId);
    const cache = await caches.open(PACKS);
    await cache.put(GRID.picture, new Response(picture, { headers: { "Content-Type": "image/jpeg" } }));
    await cache.put(GRID.document, new Response(JSON.stringify({ ...grid, until })));
  } catch {
    // The cache is a convenience: the service draws it again.
  }
}

/** What is kept, unless its time is over. @returns {Promise<{key, referenceId, plan, picture: Blob}|null>} */
export async function keptGrid() {
  try {
    await dropExpired();
    const cache = await caches.open(PACKS);
    const [document, picture] = await Promise.all([cache.match(GRID.document), cache.match(GRID.picture)]);
    return { ...await document.json(), picture: await picture.blob() };
  } catch {
    // Nothing is kept, or the browser keeps nothing.
    return null;
  }
}
