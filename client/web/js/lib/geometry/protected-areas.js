// Geometry of protected areas. They belong to the content of the photo: eyes stay protected when
// the crop moves. They are stored in shares of the picture on which they were drawn, and
// transferred to another crop through the photo. Pure.

import { clamp, pictureToReference, referenceToPicture } from "./crop.js";

/** An area of which the picture's edge leaves a smaller share is dropped. */
const LEAST_LEFT = 0.2;
/** The smallest side of an area, in shares of the picture. */
const LEAST_SHARE = 0.01;

/**
 * @param {Array<{left, top, width, height}>} areas In shares of the picture that `from` frames.
 * @param {object} from Frame, see lib/geometry/crop.js.
 * @param {object} to Frame.
 * @param {{widthPx, heightPx}} photo
 * @returns {Array} in shares of the picture that `to` frames; areas outside are dropped
 */
export function transferredAreas(areas, from, to, photo) {
  return areas.map((area) => transferred(area, from, to, photo)).filter(Boolean);
}

function transferred(area, from, to, photo) {
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

/** The part between 0 and 1 of the range from the least to the greatest value. */
function span(values) {
  const [least, greatest] = [Math.min(...values), Math.max(...values)];
  const start = clamp(least, 0, 1);
  return { start, size: clamp(greatest, 0, 1) - start, whole: greatest - least };
}

/** An area mirrored left to right if the print is mirrored; the same function reverses it. */
export function mirroredArea(area, mirror) {
  return mirror ? { ...area, left: 1 - area.left - area.width } : area;
}

/**
 * Indices of the protected areas that a seam of the plan crosses.
 * @param {object} plan
 * @returns {number[]}
 */
export function crossedAreas(plan) {
  const slack = 0.01;
  const crossed = [];
  plan.protected_mm.forEach((area, index) => {
    const hit = plan.seams.some(({ from_mm: [x1, y1], to_mm: [x2, y2] }) =>
      Math.max(x1, x2) > area.left + slack && Math.min(x1, x2) < area.left + area.width - slack
      && Math.max(y1, y2) > area.top + slack && Math.min(y1, y2) < area.top + area.height - slack);
    if (hit) crossed.push(index);
  });
  return crossed;
}
