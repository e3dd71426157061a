// The grid over the picture, as it will be printed: squares, diagonals, letters across and
// numbers down, with a halo so that it is legible on any photo.

import { svg } from "../../lib/browser/dom.js";

const LETTER_PX = 11;
/** With narrower squares only each fifth has a name, as on a ruler. */
const LEAST_NAMED_PX = 17;
/** Narrower squares have no halo, which would hide the picture. */
const CROWDED_PX = 12;

/** Letters without i, l and o, which look like figures. */
const LETTERS = "abcdefghjkmnpqrstuvwxyz";

/** Name of a column: a … z, aa, ab … @param {number} index from 0 */
export function columnName(index) {
  const last = LETTERS[index % LETTERS.length];
  return index < LETTERS.length ? last : columnName(Math.floor(index / LETTERS.length) - 1) + last;
}

/**
 * @param {object} plan with `grid`, as `POST /v1/plans` returns it
 * @param {number} widthPx width of the picture on the screen
 * @param {boolean} diagonals
 * @returns {SVGElement|null} null without a grid
 */
export function gridLayer(plan, widthPx, diagonals) {
  if (!plan.grid?.square_mm) return null;
  const scale = widthPx / plan.picture.width_mm;
  const net = netOf(plan, scale);
  const d = linesOf(net, diagonals);
  const name = net.side < CROWDED_PX ? "grid crowded" : "grid";
  return svg("g", { class: name, "pointer-events": "none" },
    svg("path", { class: "grid-halo", d }), svg("path", { class: "grid-line", d }), namesOf(net));
}

function netOf({ grid, picture }, scale) {
  const edges = (count, end) => Array.from({ length: count + 1 }, (_, at) => Math.min(at * grid.square_mm, end) * scale);
  return {
    side: grid.square_mm * scale, x: edges(grid.columns, picture.width_mm), y: edges(grid.rows, picture.height_mm),
  };
}

function linesOf({ side, x, y }, diagonals) {
  const [right, bottom] = [x.at(-1), y.at(-1)];
  const lines = [
    ...x.map((one) => [one, 0, one, bottom]),
    ...y.map((one) => [0, one, right, one]),
    ...(diagonals ? diagonalsOf(side, right, bottom) : []),
  ];
  return lines.map(([x1, y1, x2, y2]) => `M${fixed(x1)} ${fixed(y1)}L${fixed(x2)} ${fixed(y2)}`).join("");
}

/** The diagonals, each as one line through all its squares, cut at the edges. */
function diagonalsOf(side, right, bottom) {
  const lines = [];
  const down = Math.ceil(bottom / side);
  const across = Math.ceil(right / side);
  for (let start = -down; start < across; start += 1) {
    const left = Math.max(start * side, 0);
    const end = Math.min(right, start * side + bottom);
    if (end > left) lines.push([left, left - start * side, end, end - start * side]);
  }
  for (let sum = 1; sum < across + down; sum += 1) {
    const left = Math.max(sum * side - bottom, 0);
    const end = Math.min(right, sum * side);
    if (end > left) lines.push([left, sum * side - left, end, sum * side - end]);
  }
  return lines;
}

function namesOf({ side, x, y }) {
  const named = (index) => side >= LEAST_NAMED_PX || (index + 1) % 5 === 0;
  const group = svg("g", { class: "grid-names" });
  middles(x).forEach((at, index) => named(index) && group.append(scrap(columnName(index), at, LETTER_PX * 0.75)));
  middles(y).forEach((at, index) => named(index) && group.append(scrap(String(index + 1), LETTER_PX * 0.75, at)));
  return group;
}

function middles(edges) {
  return edges.slice(1).map((edge, index) => (edge + edges[index]) / 2);
}

function scrap(text, x, y) {
  const width = (text.length * 0.62 + 0.5) * LETTER_PX;
  const left = Math.max(x - width / 2, 0);
  return svg("g", {},
    svg("rect", { x: fixed(left), y: fixed(y - LETTER_PX * 0.65), width: fixed(width), height: LETTER_PX * 1.3, rx: 2 }),
    svg("text", { x: fixed(left + width / 2), y: fixed(y + LETTER_PX * 0.36), "text-anchor": "middle" }, text));
}

function fixed(value) {
  return Math.round(value * 100) / 100;
}
