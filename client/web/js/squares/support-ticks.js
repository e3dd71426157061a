// Where the edges of the support are ticked, so that the same squares are ruled on it. As on the
// printed page, every tick is measured from one corner.

import { h } from "../lib/browser/dom.js";
import { columnName } from "../draw/plan/grid-layer.js";
import { writeLengthUnit } from "../lib/texts/units.js";
import { ticksOf } from "./grid-places.js";

/** @returns {HTMLElement} */
export function supportTicks(t, { grid, picture }, borderMm, unit) {
  const table = (title, ticks) => h("table", { class: "ticks" },
    h("caption", { text: title }),
    h("tbody", {}, ticks.map(({ name, mm }) => h("tr", {},
      h("th", { scope: "row", text: name }), h("td", { text: writeLengthUnit(mm, unit, t.language) })))));
  return h("div", { class: "ticks-part" },
    h("p", { text: t("bysquares.from-one-edge") }),
    h("div", { class: "ticks-tables" },
      table(t("bysquares.across"), ticksOf(grid.columns, grid.square_mm, picture.width_mm, borderMm, columnName)),
      table(t("bysquares.down"), ticksOf(grid.rows, grid.square_mm, picture.height_mm, borderMm, (row) => String(row + 1)))));
}
