// A plan over its picture: pieces, labels, seams, laps and tape, as SVG.
//
// Drawn in screen pixels, not in millimetres, so that lines and letters keep their size on a
// phone. If pieces are too small for a label each, rows and columns are named along the edges, as
// on a map; with staggered seams there are no such columns, and only pieces with room have a label.

import { svg } from "../../lib/browser/dom.js";

/** The smallest type that is legible at arm's length (common practice). */
const SMALLEST_LETTER_PX = 10;
const LARGEST_LETTER_PX = 13;
/** Widths of a figure and of the dot between two, and padding of a label, in sizes of type. */
const FIGURE = 0.66;
const DOT = 0.3;
const AIR = 0.6;
/** Distance from a label to the seams beside it. */
const BESIDE_PX = 5;
/** Pieces that are narrower on the screen have finer lines, or the lines would hide the picture. */
const CROWDED_PX = 28;
/** The smallest size at which tape is shown, or it would look like a speck. */
const LEAST_TAPE_PX = 4;

function round(value) {
  return Math.round(value * 100) / 100;
}

/**
 * Seams, laps and tape; like the labels, they take no pointer events.
 * @param {object} plan - as `POST /v1/plans` returns it
 * @param {number} widthPx - width of the picture on the screen
 * @param {{tape?: boolean}} show
 * @returns {SVGElement}
 */
export function planLayer(plan, widthPx, show = {}) {
  const scale = widthPx / plan.picture.width_mm;
  const layer = svg("g", { class: crowded(plan, scale) ? "plan crowded" : "plan", "pointer-events": "none" });
  layer.append(laps(plan, scale), seams(plan, scale, "seam-halo"), seams(plan, scale, "seam"));
  if (show.tape) layer.append(tape(plan, scale));
  return layer;
}

/**
 * The labels, which are above all other layers.
 * @param {object} plan
 * @param {number} widthPx
 * @returns {SVGElement}
 */
export function labelLayer(plan, widthPx) {
  const scale = widthPx / plan.picture.width_mm;
  const layer = labels(plan, scale);
  if (crowded(plan, scale)) layer.classList.add("crowded");
  return layer;
}

function crowded(plan, scale) {
  return plan.pieces.some(({ picture_rect_mm: { width, height } }) => Math.min(width, height) * scale < CROWDED_PX);
}

function seams(plan, scale, name) {
  const d = plan.seams
    .map(({ from_mm: from, to_mm: to }) => `M${point(from, scale)}L${point(to, scale)}`)
    .join("");
  return svg("path", { class: name, d });
}

function point([x, y], scale) {
  return `${round(x * scale)} ${round(y * scale)}`;
}

/** The laps under neighbouring pieces. */
function laps(plan, scale) {
  const group = svg("g", { class: "laps" });
  for (const piece of plan.pieces) {
    const { left, top, width, height } = piece.picture_rect_mm;
    const { lap_right_mm: across, lap_bottom_mm: down } = piece;
    if (across > 0) {
      group.append(rect({ left: left + width - across, top, width: across, height }, scale));
    }
    if (down > 0) {
      group.append(rect({ left, top: top + height - down, width, height: down }, scale));
    }
  }
  return group;
}

function rect({ left, top, width, height }, scale, attributes = {}) {
  return svg("rect", {
    x: left * scale,
    y: top * scale,
    width: width * scale,
    height: height * scale,
    ...attributes,
  });
}

function tape(plan, scale) {
  const group = svg("g", { class: "tape" });
  for (const { rect_mm: spot } of plan.tape_spots) {
    group.append(rect(atLeast(spot, LEAST_TAPE_PX / scale), scale, { rx: 0.8 }));
  }
  return group;
}

/** A spot of tape enlarged about its middle so that no side is shorter than `least`. */
function atLeast(spot, least) {
  const width = Math.max(spot.width, least);
  const height = Math.max(spot.height, least);
  return {
    left: spot.left - (width - spot.width) / 2,
    top: spot.top - (height - spot.height) / 2,
    width,
    height,
  };
}

function labels(plan, scale) {
  const group = svg("g", { class: "labels", "pointer-events": "none" });
  const named = plan.pieces.filter((piece) => letterSize(piece, scale) >= SMALLEST_LETTER_PX);
  if (named.length === plan.pieces.length || (plan.run_through !== "both" && named.length > 0)) {
    const size = Math.min(...named.map((piece) => letterSize(piece, scale)));
    for (const piece of named) group.append(label(piece.label, corner(seen(piece), piece.label, scale, size), size));
    return group;
  }
  for (const piece of plan.pieces) {
    const where = seen(piece);
    if (piece.row === 0 && fits(where.width * scale, piece.column)) {
      group.append(label(placeName(piece.column), middle(where, scale), SMALLEST_LETTER_PX));
    } else if (piece.column === 0 && piece.row > 0 && where.height * scale > SMALLEST_LETTER_PX) {
      group.append(label(`${piece.row + 1}·`, middle(where, scale), SMALLEST_LETTER_PX));
    }
  }
  return group;
}

/** A column's part of the labels below it: the row's part is before the dot. */
const placeName = (column) => `·${column + 1}`;

/** Whether a column's name has room; with too little room only each fifth has its name. */
function fits(widthPx, column) {
  return widthPx >= labelSize(placeName(column), SMALLEST_LETTER_PX).width || (column + 1) % 5 === 0;
}

/** The visible part of a piece: without the laps under its neighbours. */
function seen(piece) {
  const { left, top, width, height } = piece.picture_rect_mm;
  return {
    left,
    top,
    width: width - piece.lap_right_mm,
    height: height - piece.lap_bottom_mm,
  };
}

/** The largest size of type with which a label fits its piece. */
function letterSize(piece, scale) {
  const { width, height } = seen(piece);
  return Math.min(LARGEST_LETTER_PX, (width * scale * 0.9) / widthOf(piece.label), height * scale * 0.4);
}

/** Width of a label, in sizes of type. */
const widthOf = (text) => [...text].reduce((width, sign) => width + (sign === "·" ? DOT : FIGURE), AIR);

const labelSize = (text, size) => ({ width: widthOf(text) * size, height: size * 1.35 });

function middle({ left, top, width, height }, scale) {
  return { x: (left + width / 2) * scale, y: (top + height / 2) * scale };
}

/**
 * The middle of a label in the lower right corner of its piece, since the subject is mostly in
 * the middle, and the names of the grid are along the other two edges.
 */
function corner(where, text, scale, size) {
  const own = labelSize(text, size);
  const at = (start, side, length) => {
    const free = Math.max(0, side * scale - length);
    return (start + side) * scale - Math.min(BESIDE_PX, free / 2) - length / 2;
  };
  return { x: at(where.left, where.width, own.width), y: at(where.top, where.height, own.height) };
}

/** A label on a small pale rectangle, centred. */
function label(text, { x, y }, size) {
  const { width, height } = labelSize(text, size);
  return svg(
    "g",
    { class: "label" },
    svg("rect", { x: x - width / 2, y: y - height / 2, width, height, rx: size * 0.14 }),
    svg("text", { x, y: y + size * 0.36, "font-size": size, "text-anchor": "middle" }, text),
  );
}
