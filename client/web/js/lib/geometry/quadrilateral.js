// The four corners of a picture in a photo, and the rectangle that they show: the same formulas
// as in worker/reference/square_up, so that the page shows what the service will make. Pure: no
// DOM, no state. A photo is {widthPx, heightPx}, a corner [x, y] in shares.

/** The service's limits: shortest side, sharpest corner, flattest view, longest strip. */
const LEAST_SIDE_PX = 32;
const LEAST_ANGLE = (10 * Math.PI) / 180;
const MOST_DEPTH = 8;
const MOST_PROPORTION = 20;
/** The usual focal length of a phone, and the weight of perspective; see the worker's module. */
const USUAL_FOCAL = 26 / Math.hypot(36, 24);
const FOCAL_SPREAD = Math.log(1.4);
const ANGLE_SPREAD = 0.003;
const FOCALS = Array.from({ length: 1201 }, (_, at) => 0.2 * 50 ** (at / 1200));

/**
 * The corners as the service names them: clockwise from the top left one, never mirrored.
 * @param {Array<[number, number]>} corners in any order
 * @returns {Array<[number, number]>}
 */
export function orderedCorners(corners, photo) {
  const round = clockwise(corners.map(([x, y]) => [x * photo.widthPx, y * photo.heightPx]));
  const names = [[-1, -1], [1, -1], [1, 1], [-1, 1]];
  const topmost = indexOfLeast(round.map(([x, y]) => [y, x]));
  let best = { sum: -Infinity };
  for (let turn = 0; turn < 4; turn += 1) {
    const turned = round.map((_, at) => round[(at + topmost + turn) % 4]);
    const sum = turned.reduce((all, [x, y], at) => all + x * names[at][0] + y * names[at][1], 0);
    if (sum > best.sum) best = { sum, turned };
  }
  return best.turned.map(([x, y]) => [x / photo.widthPx, y / photo.heightPx]);
}

function clockwise(places) {
  const [mx, my] = [0, 1].map((axis) => places.reduce((sum, place) => sum + place[axis], 0) / places.length);
  return [...places].sort((one, other) => Math.atan2(one[1] - my, one[0] - mx) - Math.atan2(other[1] - my, other[0] - mx));
}

function indexOfLeast(pairs) {
  return pairs.reduce((best, [first, second], at) => {
    const [leastFirst, leastSecond] = pairs[best];
    return first < leastFirst || (first === leastFirst && second < leastSecond) ? at : best;
  }, 0);
}

/** Whether the quadrilateral of these ordered corners can be squared up. */
export function isUsable(corners, photo) {
  const places = corners.map(([x, y]) => [x * photo.widthPx, y * photo.heightPx]);
  const { g, k } = perspectiveOf(corners);
  const depths = [1, 1 + g, 1 + g + k, 1 + k];
  // Three corners in a line give NaN, for which these comparisons are false.
  return Math.max(...depths) <= MOST_DEPTH * Math.min(...depths) && places.every(([x, y], at) => {
    const [next, last] = [places[(at + 1) % 4], places[(at + 3) % 4]];
    const [ax, ay, bx, by] = [next[0] - x, next[1] - y, last[0] - x, last[1] - y];
    const angle = Math.atan2(ax * by - ay * bx, ax * bx + ay * by);
    return Math.hypot(ax, ay) >= LEAST_SIDE_PX && angle >= LEAST_ANGLE && angle <= Math.PI - LEAST_ANGLE;
  });
}

/**
 * Width ÷ height of the rectangle, estimated from this one view.
 * @returns {number|null} null if it would be a strip
 */
export function trueProportion(corners, photo) {
  const diagonal = Math.hypot(photo.widthPx, photo.heightPx);
  const [first, second, fourth, third] = corners.map(([x, y]) => [
    ((x - 0.5) * photo.widthPx) / diagonal, ((y - 0.5) * photo.heightPx) / diagonal, 1]);
  const toRight = dot(cross(first, fourth), third) / dot(cross(second, fourth), third);
  const toBottom = dot(cross(first, fourth), second) / dot(cross(third, fourth), second);
  const across = first.map((one, at) => toRight * second[at] - one);
  const down = first.map((one, at) => toBottom * third[at] - one);
  const focal = likeliestFocal(across, down);
  const proportion = lengthOf(across, focal) / lengthOf(down, focal);
  return proportion >= 1 / MOST_PROPORTION && proportion <= MOST_PROPORTION ? proportion : null;
}

const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const lengthOf = (direction, focal) => Math.hypot(Math.hypot(direction[0], direction[1]) / focal, direction[2]);

function likeliestFocal(across, down) {
  let best = { cost: Infinity };
  for (const focal of FOCALS) {
    const product = (across[0] * down[0] + across[1] * down[1]) / focal ** 2 + across[2] * down[2];
    const cosine = product / (lengthOf(across, focal) * lengthOf(down, focal));
    const cost = (cosine / ANGLE_SPREAD) ** 2 + (Math.log(focal / USUAL_FOCAL) / FOCAL_SPREAD) ** 2;
    if (cost < best.cost) best = { cost, focal };
  }
  return best.focal;
}

/**
 * The perspective of the view: the coefficients of u and v in the denominator.
 * Heckbert, "Fundamentals of texture mapping and image warping" (1989), 2.2.3.
 */
function perspectiveOf([[x0, y0], [x1, y1], [x2, y2], [x3, y3]]) {
  const [dx1, dx2, dx3] = [x1 - x2, x3 - x2, x0 - x1 + x2 - x3];
  const [dy1, dy2, dy3] = [y1 - y2, y3 - y2, y0 - y1 + y2 - y3];
  const whole = dx1 * dy2 - dx2 * dy1;
  return { g: (dx3 * dy2 - dx2 * dy3) / whole, k: (dx1 * dy3 - dx3 * dy1) / whole };
}

/**
 * The projective map from the unit square onto the corners (same source).
 * @returns {function(number, number): [number, number]}
 */
export function squareToCorners(corners) {
  const [[x0, y0], [x1, y1], , [x3, y3]] = corners;
  const { g, k } = perspectiveOf(corners);
  return (u, v) => {
    const over = g * u + k * v + 1;
    return [
      ((x1 - x0 + g * x1) * u + (x3 - x0 + k * x3) * v + x0) / over,
      ((y1 - y0 + g * y1) * u + (y3 - y0 + k * y3) * v + y0) / over,
    ];
  };
}
