// What can be done with a picture of the shelf.

import { jobDeletion, packDeletion } from "../api/deletions.js";
import * as api from "../api/service.js";
import { allPictures, another, copyOf, pictureOfPack, switchTo, without } from "../state/pictures.js";
import { pictureOf, referenceOf } from "../state/from-pack.js";
import { jobKey } from "../state/state.js";

/** Go on with a picture of this device; a photo that the service no longer has is said. */
export async function continueJob(app, picture, step = picture.step) {
  if (!(await hasPhoto(app, picture))) return;
  app.update(switchTo(app.state, picture));
  app.go(step);
}

/** Open a pack at a step: as this device knows it, or else as its spec says. */
export async function openPack(app, pack, step = "pack") {
  await take(app, pack);
  app.go(step);
}

/** Begin again with the paper and the printer of a picture, and another photo. */
export async function anotherPhoto(app, { pack = null, picture = null }) {
  const from = picture ?? pictureOfPack(app.state, pack.id) ?? pictureOf(app.state, pack, null);
  app.update(another(app.state, from));
  app.go("photo");
}

/** Begin again with a pack's photo and all its choices. */
export async function samePhoto(app, pack) {
  const picture = pictureOfPack(app.state, pack.id) ?? await takenUp(app, pack);
  if (!picture.photo) return app.announce(app.t("shelf.no-photo"), true);
  app.update(copyOf(app.state, picture));
  return app.go("sheets");
}

/** Delete a pack, or a picture that has none, in ten seconds. */
export function remove(app, { pack = null, picture = null }) {
  const pictures = allPictures(app.state);
  const wish = pack
    ? packDeletion(pictures, { id: pack.id, title: pack.title, referenceId: referenceOf(pack) })
    : jobDeletion(pictures, picture);
  app.deletions.add(wish);
}

async function take(app, pack) {
  const known = pictureOfPack(app.state, pack.id);
  const picture = known?.photo ? known : await takenUp(app, pack, known?.id);
  app.update(switchTo(app.state, picture));
  // What was taken up is what the pack is of; what was changed on this device since is not.
  if (!known?.photo) app.update({ pack: { ...picture.pack, of: jobKey(app.state) } });
}

async function takenUp(app, pack, id) {
  const reference = await api.reference(referenceOf(pack)).catch(() => null);
  return pictureOf(app.state, pack, reference, id);
}

async function hasPhoto(app, picture) {
  try {
    await api.reference(picture.photo.referenceId);
    return true;
  } catch (error) {
    if (![403, 404].includes(error.status)) return true;
    app.update(without(app.state, new Set([picture.id])));
    app.announce(app.t("photo.gone"), true);
    return false;
  }
}
