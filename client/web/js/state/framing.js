// How a photo is framed, apart from what it is printed on: crop, rotation and protected areas. A
// tutor's framing goes to a class and to batches, and is fitted there to other supports. Pure.

import { resolveFrame } from "../lib/geometry/crop.js";
import { transferredAreas } from "../lib/geometry/protected-areas.js";
import { mayChangeField } from "./class-defaults.js";
import { cropOf, frameOf, protectOf } from "./state.js";

/** The framing of a state that has a photo, as part of a spec, with the support it is made for. */
export function framingOf(state) {
  const { widthMm, heightMm, borderMm } = state.paper;
  const frame = frameOf(state);
  return {
    support: { width_mm: widthMm, height_mm: heightMm, border_mm: borderMm },
    crop: cropOf(frame), rotate_deg: frame.rotateDeg, seams: { protect: protectOf(state) },
  };
}

/** The frame of a framing (lib/geometry/crop.js); null where it says no crop. */
export function frameIn({ crop, rotate_deg: rotateDeg = 0 }) {
  if (!crop || !("width" in crop)) return null;
  return { cx: crop.left + crop.width / 2, cy: crop.top + crop.height / 2, width: crop.width, height: crop.height, rotateDeg };
}

/**
 * A framing fitted to another support: the crop is the nearest of its proportions, and protected
 * areas stay on what they protect.
 * @param {object} framing
 * @param {{widthPx, heightPx}} photo
 * @param {{width_mm, height_mm, border_mm?: number}} support
 * @returns {{crop: object, rotate_deg: number, seams: {protect: Array}}|null}
 */
export function framingFor(framing, photo, { width_mm: width, height_mm: height, border_mm: border = 0 }) {
  const from = frameIn(framing);
  if (!from) return null;
  const { cx, cy, width: wide, height: high, rotateDeg } = resolveFrame(from, photo, (width - 2 * border) / (height - 2 * border));
  const to = { cx, cy, width: wide, height: high, rotateDeg };
  return { crop: cropOf(to), rotate_deg: rotateDeg, seams: { protect: transferredAreas(framing.seams?.protect ?? [], from, to, photo) } };
}

/**
 * The change of the state that takes up a class's picture as its tutor has framed it; `anew`
 * leaves the framing to the student.
 * @param {object} state
 * @param {object} picture of a class's document
 * @param {string} name of the photo
 * @param {object} [reset] the state's change for another photo, for framing anew
 */
export function pictureTaken(state, picture, name, reset = null) {
  const photo = {
    referenceId: picture.reference_id, widthPx: picture.width_px, heightPx: picture.height_px, previewUrl: picture.preview, name, lent: true,
  };
  const frame = frameIn(picture.spec);
  if (reset || !frame) return { photo, ...reset };
  const { support } = picture.spec;
  const free = mayChangeField(state.settled?.mayChange ?? null, "support.width_mm");
  return {
    photo,
    frame: { cx: frame.cx, cy: frame.cy, width: frame.width, rotateDeg: frame.rotateDeg },
    sheets: { protect: picture.spec.seams?.protect ?? [], protectFrame: frame },
    ...(support && free ? { paper: { widthMm: support.width_mm, heightMm: support.height_mm, borderMm: support.border_mm ?? 0 } } : {}),
  };
}
