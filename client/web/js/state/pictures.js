// Several pictures in work at once. The state has one at a time, under the names that all screens
// use; the others are set aside under their ids, and switching loses nothing of either. All here
// are functions of the state, whose results are changes for `update`.

import { freshId } from "./picture-id.js";
import { patchOf } from "./class-defaults.js";
import { FRAME_RESET, freshSheets } from "./state.js";

/** The parts of the state that belong to one picture. */
const PARTS = ["photo", "faces", "paper", "frame", "sheets", "title", "pack", "step", "reached", "begunAt"];
/** Of more than these, the oldest that have a pack are dropped: the service has what they were. */
const MOST = 60;
const PRINTER = ["acrossCorrection", "downCorrection", "printer", "printerId"];

const partsOf = (from) => Object.fromEntries(PARTS.map((name) => [name, from[name]]));

/** The picture that the state has; null where there is none yet. */
const pictureNow = (state) => (state.pictureId ? { id: state.pictureId, ...partsOf(state) } : null);

/** All pictures on this device. @returns {Array<object>} each with its id and the parts of the state */
export function allPictures(state) {
  return [pictureNow(state), ...Object.values(state.pictures)].filter(Boolean);
}

/** The picture whose pack this is. */
export const pictureOfPack = (state, packId) => allPictures(state).find(({ pack }) => pack?.id === packId) ?? null;

/** Ids of a picture's photo and of the one that it was squared up from. */
export const photosOf = ({ photo }) => [photo?.referenceId, photo?.original?.referenceId].filter(Boolean);

/** The pictures besides the one with this id. */
function others(state, id) {
  const all = allPictures(state).filter((one) => one.id !== id);
  const spare = all.filter(({ pack }) => pack).sort((one, other) => one.begunAt - other.begunAt);
  const dropped = new Set(spare.slice(0, Math.max(all.length - MOST, 0)));
  return Object.fromEntries(all.filter((one) => !dropped.has(one)).map((one) => [one.id, one]));
}

/** Go on with this picture; the one before is set aside. */
export function switchTo(state, picture) {
  return {
    ...partsOf(picture), pictureId: picture.id, pictures: others(state, picture.id),
    // The unit is the person's, not the picture's.
    paper: { ...picture.paper, unit: state.paper.unit },
  };
}

/** Begin another picture with the paper and the printer of `from`, and nothing else of it. */
export function another(state, from = state) {
  const printer = Object.fromEntries(PRINTER.map((name) => [name, from.sheets[name]]));
  const wanted = state.settled ? patchOf(state.settled.defaults) : {};
  return {
    photo: null, faces: null, title: "", pack: null, step: "photo", begunAt: null, pictureId: null,
    pictures: others(state, null), frame: FRAME_RESET.frame,
    paper: { ...from.paper, ...wanted.paper, unit: state.paper.unit },
    sheets: { ...freshSheets(), ...wanted.sheets, ...printer },
  };
}

/** Begin another picture with all that one has, but its pack. */
export function copyOf(state, picture) {
  const copy = { ...picture, id: freshId(), pack: null, step: "sheets", begunAt: Date.now() };
  return switchTo(state, copy);
}

/** Take pictures off this device. @param {Set<string>} ids */
export function without(state, ids) {
  const left = ids.has(state.pictureId) ? { ...another(state), pictures: state.pictures } : {};
  const kept = Object.entries(state.pictures).filter(([id]) => !ids.has(id));
  return { ...left, pictures: Object.fromEntries(kept) };
}
