// A pack's job taken up again: what its spec says, as parts of the state. It is how a pack goes on
// that was made on another device, by a tutor, or through the API.

import { EDGES } from "../lib/paper/margins.js";
import { patchOf } from "./class-defaults.js";
import { freshId } from "./picture-id.js";
import { FRAME_RESET, freshSheets } from "./state.js";

/**
 * @param {object} state for what a pack does not say
 * @param {object} pack as the list of packs has it, with `spec`
 * @param {object|null} reference its photo's document; null where that cannot be had
 * @param {string} [id] of the picture on this device
 * @returns {object} a picture; see state/pictures.js
 */
export function pictureOf(state, pack, reference, id = freshId()) {
  const { spec } = pack;
  const patch = patchOf(spec);
  return {
    id, faces: null, title: pack.title, step: "pack", begunAt: Date.parse(pack.created_at),
    photo: reference && photoOf(reference),
    pack: { id: pack.id, state: pack.state, referenceId: referenceOf(pack) },
    frame: frameOf(spec),
    paper: { ...state.paper, ...patch.paper, marginPreset: isTight(spec) ? "tight" : "own" },
    sheets: { ...freshSheets(), ...patch.sheets, ...sheetsOf(spec) },
  };
}

/** The id of the photo that a pack is made from. */
export const referenceOf = ({ links }) => links.reference.split("/").pop();

/** A photo's document as the state has it. */
function photoOf({ id, width_px: widthPx, height_px: heightPx, links }) {
  return { referenceId: id, widthPx, heightPx, previewUrl: links.preview, name: "" };
}

function frameOf({ crop, rotate_deg: rotateDeg = 0 }) {
  const free = { ...FRAME_RESET.frame, rotateDeg };
  if (crop?.focus) return { ...free, cx: crop.focus[0], cy: crop.focus[1] };
  if (crop?.width === undefined) return free;
  return { ...free, cx: crop.left + crop.width / 2, cy: crop.top + crop.height / 2, width: crop.width };
}

/** Whether the margins are what the page starts with. */
function isTight({ sheet }) {
  return EDGES.every((edge) => (sheet?.margin_mm?.[edge] ?? 5) === 5);
}

function sheetsOf({ grid, seams = {}, print = {} }) {
  return {
    gridMm: grid?.square_mm ?? null,
    protect: seams.protect ?? [], protectFrame: null,
    lapMm: seams.joint === "lap" ? seams.lap_mm : freshSheets().lapMm,
    acrossCorrection: print.across_correction ?? 1, downCorrection: print.down_correction ?? 1,
    printer: print.printer ?? "", printerId: null,
  };
}
