// Deleting that can be undone for ten seconds: what is deleted is hidden at once, and the service
// is told when the time is over or the page is left. What it has not been told is kept on the
// device until it is, so a deletion is never lost; one that may have arrived is looked up before
// it is sent again.

import { dropPack, dropPacksOf } from "./offline-cache.js";
import * as api from "./service.js";
import { photosOf, without } from "../state/pictures.js";

const UNDO_MS = 10_000;
/** Pause before a deletion that could not be sent is tried again. */
const AGAIN_MS = 15_000;
/** Pause before a pack that is being cancelled is deleted, and before a deletion is looked up. */
const SOON_MS = 1500;
const GONE = new Set([403, 404]);

/**
 * @param {object} how
 * @param {object} how.store see state/state.js
 * @param {function(Array<object>)} how.show shows what can be undone; called at every change
 * @param {function(object, Error)} how.refused tells that the service did not delete it
 * @returns {{start, add, undo, flush}}
 */
export function createDeletions({ store, show, refused }) {
  const timers = new Map();
  const sending = new Map();

  const entryOf = (path) => store.state.deleting.find((one) => one.path === path);
  const waiting = () => store.state.deleting.filter((one) => !one.sent);

  function keep(deleting) {
    store.update({ deleting });
    store.save();
    show(waiting());
  }

  function later(path, ms, act) {
    clearTimeout(timers.get(path));
    timers.set(path, setTimeout(act, ms, path));
  }

  /**
   * Delete something in ten seconds.
   * @param {{path: string, title: string, kind: "pack"|"photo"|"job", packId?: string, photos?: string[], pictures: Array<object>}} wish
   *   `path` of the request; `photos`: their packs go too; `pictures`: what leaves this device
   */
  function add(wish) {
    const { state } = store;
    const entry = { ...wish, at: Date.now(), sent: false, current: wish.pictures.some(({ id }) => id === state.pictureId) };
    store.update(without(state, new Set(wish.pictures.map(({ id }) => id))));
    keep([...state.deleting, entry]);
    later(entry.path, UNDO_MS, send);
  }

  /** Take a deletion back; its pictures return. */
  function undo(path) {
    const entry = entryOf(path);
    if (!entry || entry.sent) return;
    clearTimeout(timers.get(path));
    restore(entry);
    keep(store.state.deleting.filter((one) => one !== entry));
  }

  function restore({ pictures, current }) {
    const { state } = store;
    const back = Object.fromEntries(pictures.map((one) => [one.id, one]));
    store.update({ pictures: { ...state.pictures, ...back } });
    // Where nothing was begun meanwhile, the screens go on with it.
    if (current && !state.pictureId) {
      const [{ id, ...parts }] = pictures;
      const { [id]: _, ...others } = store.state.pictures;
      store.update({ ...parts, pictureId: id, pictures: others });
    }
  }

  /** Send a deletion, once at a time. */
  function send(path, keepalive = false) {
    if (!sending.has(path)) sending.set(path, sendNow(path, keepalive).finally(() => sending.delete(path)));
    return sending.get(path);
  }

  async function sendNow(path, keepalive) {
    const entry = entryOf(path);
    if (!entry) return;
    clearTimeout(timers.get(path));
    mark(path, true);
    try {
      const answer = await api.fetchOk(path, { method: "DELETE", keepalive });
      // A pack that was not made yet is only cancelled by the first request.
      if (answer.status === 202) later(path, SOON_MS, send);
      else await done(entry);
    } catch (error) {
      if (error.status === 404) await done(entry);
      else if (error.passing) later(path, AGAIN_MS, lookUp);
      else takeBack(entry, error);
    }
  }

  function mark(path, sent) {
    keep(store.state.deleting.map((one) => (one.path === path ? { ...one, sent } : one)));
  }

  async function done(entry) {
    const { packId, photos = [] } = entry;
    keep(store.state.deleting.filter(({ path }) => path !== entry.path));
    if (packId) {
      store.update({ checklist: { [packId]: undefined } });
      await dropPack(packId);
    }
    await Promise.all(photos.map(dropPacksOf));
  }

  function takeBack(entry, error) {
    restore(entry);
    keep(store.state.deleting.filter(({ path }) => path !== entry.path));
    refused(entry, error);
  }

  /** Send it again, unless the service has done it. */
  async function lookUp(path) {
    const entry = entryOf(path);
    if (!entry) return;
    try {
      await api.ask(path.split("?")[0]);
      await send(path);
    } catch (error) {
      if (GONE.has(error.status)) await done(entry);
      else later(path, AGAIN_MS, lookUp);
    }
  }

  /** Go on with what the last visit left. */
  function start() {
    for (const { path, at, sent } of store.state.deleting) {
      if (sent) later(path, SOON_MS, lookUp);
      else later(path, Math.max(at + UNDO_MS - Date.now(), 0), send);
    }
    show(waiting());
    window.addEventListener("pagehide", () => flush(true));
    window.addEventListener("online", () => {
      for (const { path, sent } of store.state.deleting) if (sent) later(path, 0, lookUp);
    });
  }

  /** Send all that waits, since the page or the person goes. */
  function flush(keepalive = false) {
    return Promise.all(waiting().map(({ path }) => send(path, keepalive)));
  }

  return { start, add, undo, flush };
}

/** Whether something is being deleted, so that lists leave it out. */
export function isDeleted({ deleting }, packId, referenceId) {
  return deleting.some((one) => one.packId === packId || one.photos?.includes(referenceId));
}

/** The wish to delete a pack with its pictures, and with its photo where this device has no other use for it. */
export function packDeletion(pictures, { id, title, referenceId }) {
  const [own, rest] = split(pictures, ({ pack }) => pack?.id === id);
  const used = rest.some((one) => photosOf(one).includes(referenceId));
  return { kind: "pack", path: `/v1/packs/${id}${used ? "" : "?with_photo=true"}`, packId: id, title, pictures: own };
}

/** The wish to delete a picture of which no pack was made. */
export function jobDeletion(pictures, picture) {
  return {
    kind: "job", path: `/v1/references/${picture.photo.referenceId}?if_unused=true`, title: picture.title, pictures: [picture],
  };
}

/** The wish to delete a photo with all that was made from it. */
export function photoDeletion(pictures, { referenceId, original }) {
  const photos = [referenceId, original?.referenceId].filter(Boolean);
  const [own] = split(pictures, (one) => photosOf(one).some((id) => photos.includes(id)));
  return { kind: "photo", path: `/v1/references/${photos.at(-1)}`, photos, title: "", pictures: own };
}

function split(all, test) {
  return [all.filter(test), all.filter((one) => !test(one))];
}
