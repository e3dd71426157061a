// Where the default crop lies so that it cuts no head: the same as in worker/layout/crop/heads.py, which
// says why. Pure.

import { clamp, largestFrame, turnedExtent } from "./crop.js";

/** Room above the hair, and on the three other sides, in shares of the head's height and width. */
const AIR = { above: 0.12, aside: 0.04 };
/** Less than this many pixels over an edge is rounding. */
const ROUNDING_PX = 1e-3;
const STRAIGHT = 1e-12;
const NOWHERE = [Infinity, -Infinity];

/**
 * The largest frame of a proportion, as near the photo's centre as it can be with heads whole.
 * @param {{widthPx, heightPx}} photo
 * @param {number} proportion width through height
 * @param {number} rotateDeg
 * @param {Array<{face, head}>} faces in shares of the photo, as a plan's `framing` has them
 * @returns {object} a frame, see geometry.js
 */
export function defaultFrame(photo, proportion, rotateDeg, faces) {
  const frame = largestFrame(photo, proportion, rotateDeg);
  const axis = axisOf(frame, photo);
  const wanted = faces.map((one) => wantedPlaces(axis, one));
  const weigh = (kind, place) => wanted.reduce((sum, one) => sum + (holds(one[kind], place) ? one.weight : 0), 0);
  const rank = (place) => [weigh("whole", place), weigh("airy", place), -Math.abs(place - axis.middle)];
  const ends = wanted.flatMap(({ whole, airy }) => [whole, airy].filter((one) => !isEmpty(one)).flat());
  const place = ends.reduce((best, one) => (isBetter(rank(one), rank(best)) ? one : best), axis.middle);
  return axis.across ? { ...frame, cx: place / photo.widthPx } : { ...frame, cy: place / photo.heightPx };
}

function isBetter(one, other) {
  const at = one.findIndex((value, index) => value !== other[index]);
  return at >= 0 && one[at] > other[at];
}

/** The line along which the largest frame can move: across or down, from its middle, in pixels. */
function axisOf(frame, photo) {
  const size = { width: frame.width * photo.widthPx, height: frame.height * photo.heightPx };
  const box = turnedExtent(size.width, size.height, frame.rotateDeg);
  const slack = { x: photo.widthPx - box.width, y: photo.heightPx - box.height };
  const across = slack.x >= slack.y;
  const middle = (across ? photo.widthPx : photo.heightPx) / 2;
  const half = Math.max(slack.x, slack.y, 0) / 2;
  const turn = (frame.rotateDeg * Math.PI) / 180;
  const turned = (x, y) => [x * Math.cos(turn) - y * Math.sin(turn), x * Math.sin(turn) + y * Math.cos(turn)];
  return { photo, size, across, middle, reach: [middle - half, middle + half], turned, deg: frame.rotateDeg };
}

/** Where one head is whole, where with air around it, and how much it counts: its area. */
function wantedPlaces(axis, { face, head }) {
  const weight = head.width * head.height;
  const whole = whereWhole(axis, head);
  if (!isEmpty(whole)) return { whole, airy: whereWhole(axis, withAir(head)), weight };
  const { widthPx, heightPx } = axis.photo;
  const along = axis.across ? (face.left + face.width / 2) * widthPx : (face.top + face.height / 2) * heightPx;
  const place = clamp(along, ...axis.reach);
  return { whole: [place, place], airy: [place, place], weight };
}

function withAir({ left, top, width, height }) {
  const start = { left: Math.max(left - AIR.aside * width, 0), top: Math.max(top - AIR.above * height, 0) };
  return {
    ...start,
    width: Math.min(left + (1 + AIR.aside) * width, 1) - start.left,
    height: Math.min(top + (1 + AIR.aside) * height, 1) - start.top,
  };
}

/** Where along the axis the frame holds all of an upright area, in shares of the photo. */
function whereWhole({ photo, size, across, reach, turned, deg }, area) {
  const { widthPx, heightPx } = photo;
  const box = turnedExtent(area.width * widthPx, area.height * heightPx, deg);
  const start = across ? [0, heightPx / 2] : [widthPx / 2, 0];
  const offset = turned((area.left + area.width / 2) * widthPx - start[0], (area.top + area.height / 2) * heightPx - start[1]);
  const step = across ? turned(1, 0) : turned(0, 1);
  const room = [(size.width - box.width) / 2, (size.height - box.height) / 2];
  return [0, 1].reduce((found, at) => shared(found, within(offset[at], step[at], room[at])), reach);
}

/** Places at which `start`, less `slope` for each pixel, is `most` or less either way. */
function within(start, slope, most) {
  if (Math.abs(slope) < STRAIGHT) return Math.abs(start) <= most + ROUNDING_PX ? [-Infinity, Infinity] : NOWHERE;
  if (most < -ROUNDING_PX) return NOWHERE;
  return [(start - most) / slope, (start + most) / slope].sort((one, other) => one - other);
}

const shared = (one, other) => [Math.max(one[0], other[0]), Math.min(one[1], other[1])];
const isEmpty = ([low, high]) => low > high + ROUNDING_PX;
const holds = ([low, high], place) => low - ROUNDING_PX <= place && place <= high + ROUNDING_PX;
