// Crop geometry, the same as in worker/layout/crop/crop.py, so that the page never requests a crop
// that the service refuses. Pure: no DOM, no state.
//
// A frame is {cx, cy, width, height, rotateDeg}: centre and size in shares of the upright
// reference, before it is turned about its centre; a positive turn shows the content turned
// clockwise. A photo is {widthPx, heightPx}.

/** The smallest crop, in pixels of the reference; less has no detail to trace. */
const LEAST_CROP_PX = 48;
/** The API's limit of rotation, in degrees either way. */
export const MOST_TURN_DEG = 45;

/** @returns {number} value, no less than low and no more than high */
export function clamp(value, low, high) {
  return Math.min(Math.max(value, low), Math.max(low, high));
}

/** Width and height of the upright box around a rectangle that is turned. */
export function turnedExtent(width, height, deg) {
  const { cosine, sine } = turnOf(Math.abs(deg));
  return { width: width * cosine + height * sine, height: width * sine + height * cosine };
}

/** The largest frame of a proportion (width through height), at the photo's centre. */
export function largestFrame(photo, proportion, rotateDeg = 0) {
  const box = turnedExtent(proportion, 1, rotateDeg);
  const heightPx = Math.min(photo.widthPx / box.width, photo.heightPx / box.height);
  return {
    cx: 0.5, cy: 0.5, rotateDeg,
    width: (heightPx * proportion) / photo.widthPx,
    height: heightPx / photo.heightPx,
  };
}

/** The frame nearest to the requested one that is inside the photo. */
export function resolveFrame(asked, photo, proportion) {
  const rotateDeg = clamp(asked.rotateDeg, -MOST_TURN_DEG, MOST_TURN_DEG);
  const largest = largestFrame(photo, proportion, rotateDeg);
  const width = clamp(asked.width, Math.min(LEAST_CROP_PX / photo.widthPx, largest.width), largest.width);
  const height = (width / largest.width) * largest.height;
  const box = turnedExtent(width * photo.widthPx, height * photo.heightPx, rotateDeg);
  const half = { x: box.width / photo.widthPx / 2, y: box.height / photo.heightPx / 2 };
  return {
    cx: inward(asked.cx, half.x), cy: inward(asked.cy, half.y), width, height, rotateDeg,
  };
}

/** Move a centre so that its half extent stays between 0 and 1; without room, to the middle. */
function inward(centre, half) {
  return half >= 0.5 ? 0.5 : clamp(centre, half, 1 - half);
}

/** Move a frame by shares of its own width and height, along the picture's edges. */
export function movedFrame(frame, photo, right, down) {
  const x = right * frame.width * photo.widthPx;
  const y = down * frame.height * photo.heightPx;
  const { cosine, sine } = turnOf(frame.rotateDeg);
  return {
    ...frame,
    cx: frame.cx + (x * cosine + y * sine) / photo.widthPx,
    cy: frame.cy + (-x * sine + y * cosine) / photo.heightPx,
  };
}

/**
 * Make a frame `factor` times as wide, with the point (x, y), in shares of the frame from its
 * top left, fixed.
 */
export function zoomedFrame(frame, photo, factor, x = 0.5, y = 0.5) {
  const shift = 1 - factor;
  const moved = movedFrame(frame, photo, (x - 0.5) * shift, (y - 0.5) * shift);
  return { ...moved, width: frame.width * factor, height: frame.height * factor };
}

/** A point of the picture (shares, from its top left) as shares of the reference. */
export function pictureToReference(frame, photo, x, y) {
  const moved = movedFrame(frame, photo, x - 0.5, y - 0.5);
  return { x: moved.cx, y: moved.cy };
}

/** A point of the reference as shares of the picture; outside it, below 0 or above 1. */
export function referenceToPicture(frame, photo, x, y) {
  const right = (x - frame.cx) * photo.widthPx;
  const down = (y - frame.cy) * photo.heightPx;
  const { cosine, sine } = turnOf(frame.rotateDeg);
  return {
    x: 0.5 + (right * cosine - down * sine) / (frame.width * photo.widthPx),
    y: 0.5 + (right * sine + down * cosine) / (frame.height * photo.heightPx),
  };
}

/**
 * The transform of an image of the reference by which the frame fills a window.
 * @param {{width: number}} image The image as it is laid out, its origin at the top left.
 * @param {{left, top, width, height}} window Where the picture is shown.
 * @returns {string} a transform for CSS and for SVG alike
 */
export function imageTransform(frame, photo, image, window) {
  const scale = window.width / (frame.width * image.width);
  const { cosine, sine } = turnOf(frame.rotateDeg);
  const x = frame.cx * image.width;
  const y = (frame.cy * image.width * photo.heightPx) / photo.widthPx;
  const left = window.left + window.width / 2 - scale * (x * cosine - y * sine);
  const top = window.top + window.height / 2 - scale * (x * sine + y * cosine);
  return `matrix(${scale * cosine},${scale * sine},${-scale * sine},${scale * cosine},${left},${top})`;
}

/** The largest rectangle of a proportion, centred in a box with a free rim. */
export function fitted(box, proportion, rimPx = 0) {
  const width = Math.min(box.width - 2 * rimPx, (box.height - 2 * rimPx) * proportion);
  const height = width / proportion;
  return { left: (box.width - width) / 2, top: (box.height - height) / 2, width, height };
}

function turnOf(deg) {
  const turn = (deg * Math.PI) / 180;
  return { cosine: Math.cos(turn), sine: Math.sin(turn) };
}
