// Protected areas belong to what is in the photo: eyes stay protected when the crop moves on.
// They are kept in shares of the picture they were drawn on, and carried to another by way of
// the photo. Pure.

import { clamp, pictureToReference, referenceToPicture } from "./geometry.js";

/** Less of an area than this, cut off by the picture's edge, is not what was meant. */
const LEAST_LEFT = 0.2;
/** No finger means less, in shares of the picture. */
const LEAST_SHARE = 0.01;

/**
 * @param {Array<{left, top, width, height}>} areas In shares of the picture that `from` frames.
 * @param {object} from Frame, see lib/geometry.js.
 * @param {object} to Frame.
 * @param {{widthPx, heightPx}} photo
 * @returns {Array} in shares of the picture that `to` frames; what lies outside is left out
 */
export function carriedAreas(areas, from, to, photo) {
  return areas.map((area) => carried(area, from, to, photo)).filter(Boolean);
}

function carried(area, from, to, photo) {
  const corners = [[0, 0], [1, 0], [0, 1], [1, 1]].map(([x, y]) => {
    const place = pictureToReference(from, photo, area.left + x * area.width, area.top + y * area.height);
    return referenceToPicture(to, photo, place.x, place.y);
  });
  const across = span(corners.map(({ x }) => x));
  const down = span(corners.map(({ y }) => y));
  const left = across.size * down.size;
  if (Math.min(across.size, down.size) < LEAST_SHARE || left < LEAST_LEFT * across.whole * down.whole) return null;
  return { left: across.start, top: down.start, width: across.size, height: down.size };
}

/** From the least to the greatest, as far as it lies between 0 and 1. */
function span(values) {
  const [least, greatest] = [Math.min(...values), Math.max(...values)];
  const start = clamp(least, 0, 1);
  return { start, size: clamp(greatest, 0, 1) - start, whole: greatest - least };
}
