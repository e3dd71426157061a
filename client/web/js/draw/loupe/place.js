// Where a loupe lies, and which part of the picture it shows. Pure: no DOM, no state.

import { clamp } from "../../lib/geometry/crop.js";
import { MM_PER_INCH } from "../../lib/texts/units.js";

/** CSS pixels of a millimetre at print scale (CSS Values 4, 6.2: 96 to an inch). */
const PX_PER_MM = 96 / MM_PER_INCH;
/** Side of the glass (CSS pixels): a share of the area's shorter side, and its limits. */
const SHARE = 0.6;
const MOST_PX = 360;
const LEAST_PX = 120;
/** The buttons beside the glass, and air around it (css/loupe.css). */
const BAR_PX = 50;
const AIR_PX = 8;

/**
 * The side of the glass and its corner of the area, away from a place, which it does not cover.
 * @param {{width: number, height: number}} area
 * @param {{x: number, y: number}} place in the area
 * @returns {{sidePx: number, right: boolean, bottom: boolean}}
 */
export function cornerOf(area, place) {
  const right = place.x < area.width / 2;
  const bottom = place.y < area.height / 2;
  const across = right ? area.width - place.x : place.x;
  const down = bottom ? area.height - place.y : place.y;
  const free = Math.max(across - 2 * AIR_PX, down - BAR_PX - 2 * AIR_PX);
  const side = Math.min(SHARE * Math.min(area.width, area.height), MOST_PX, free);
  return { sidePx: Math.round(Math.max(side, LEAST_PX)), right, bottom };
}

/**
 * The part of the picture that a glass shows: whole pixels of the screen, inside the picture.
 * @param {{widthMm: number, heightMm: number}} picture
 * @param {{x: number, y: number}} centre in shares of the picture
 * @param {{sidePx: number, density: number, times: number}} glass `density` in pixels of the screen
 *   for a CSS pixel; `times` the size of the print
 * @returns {{partMm: {left, top, width, height}, widthPx: number, heightPx: number, pxPerMm: number}}
 *   in pixels of the screen
 */
export function partOf(picture, centre, { sidePx, density, times }) {
  const pxPerMm = PX_PER_MM * times * density;
  const most = Math.round(sidePx * density);
  const along = (lengthMm, share) => {
    const px = Math.min(most, Math.floor(lengthMm * pxPerMm));
    const mm = px / pxPerMm;
    return { px, mm, from: clamp(lengthMm * share - mm / 2, 0, lengthMm - mm) };
  };
  const across = along(picture.widthMm, centre.x);
  const down = along(picture.heightMm, centre.y);
  return {
    partMm: { left: across.from, top: down.from, width: across.mm, height: down.mm },
    widthPx: across.px, heightPx: down.px, pxPerMm,
  };
}
