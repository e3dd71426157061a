// Squares of a grid by column and row: their names, places and neighbours. Pure.

import { columnName } from "../draw/plan/grid-layer.js";

/** A square's name, as `c4`. */
export const squareName = ({ column, row }) => `${columnName(column)}${row + 1}`;

/** Where columns or rows begin and end, in mm from the picture's edge; the last may be narrower. */
function edgesOf(count, sideMm, lengthMm) {
  return Array.from({ length: count + 1 }, (_, at) => Math.min(at * sideMm, lengthMm));
}

/** The part of the picture in a square, in mm. @returns {{left, top, width, height}} */
export function placeOf({ grid, picture }, { column, row }) {
  const xs = edgesOf(grid.columns, grid.square_mm, picture.width_mm);
  const ys = edgesOf(grid.rows, grid.square_mm, picture.height_mm);
  return { left: xs[column], top: ys[row], width: xs[column + 1] - xs[column], height: ys[row + 1] - ys[row] };
}

/** The square beside another one; null beyond the picture. */
export function beside({ grid }, { column, row }, [across, down]) {
  const next = { column: column + across, row: row + down };
  return next.column >= 0 && next.column < grid.columns && next.row >= 0 && next.row < grid.rows ? next : null;
}

/** All squares, row by row. */
export function allSquares({ grid }) {
  return Array.from({ length: grid.columns * grid.rows }, (_, at) => ({ column: at % grid.columns, row: Math.floor(at / grid.columns) }));
}

/**
 * Ticks along an edge of the support, from its corner; the corners themselves need none.
 * @returns {Array<{name: string, mm: number}>} `name` as `a | b`
 */
export function ticksOf(count, sideMm, lengthMm, borderMm, nameOf) {
  const name = (at) => (at >= 0 && at < count ? nameOf(at) : "");
  const ticks = edgesOf(count, sideMm, lengthMm).map((mm, at) => ({ name: `${name(at - 1)} | ${name(at)}`.trim(), mm: borderMm + mm }));
  return borderMm > 0 ? ticks : ticks.slice(1, -1);
}
