// The controls of the grid for drawing by eye: on or off, the size of its squares, and their
// number on this picture.

import { fill, h } from "../../lib/browser/dom.js";
import { stepper, toggle } from "../fields.js";
import { clamp } from "../../lib/geometry/crop.js";
import { lineWeightStepper } from "../line-weight-field.js";
import { pictureOf } from "../../state/state.js";
import { MM_PER_INCH, readLength, writeLength, writeLengthUnit } from "../../lib/texts/units.js";

/** The service's limits. */
const LEAST_MM = 5;
const MOST_MM = 2000;
/** Heavier lines would hide the picture. */
const HEAVIEST_MM = 0.7;
/** Lengths that differ by less are equal. */
const SAME_MM = 0.06;
/** Usual number of squares along the longer side (common practice). */
const USUAL = 8;
const STEP_MM = { cm: 5, mm: 5, in: MM_PER_INCH / 4 };

/** @returns {{element, sync: function(object), showPlan: function(object)}} */
export function gridControls(app) {
  const { t } = app;
  const change = (sheets) => app.update({ sheets });
  const on = toggle(t("squares.show"), app.state.sheets.gridMm !== null, (is) => change({ gridMm: is ? firstMm() : null }));
  const chips = h("div", { class: "chips", role: "group", "aria-label": t("squares.suggested") });
  const side = h("div");
  const weight = lineWeightStepper(t, { label: t("squares.line"), most: HEAVIEST_MM, change: (gridLineMm) => change({ gridLineMm }) });
  const diagonals = toggle(t("squares.diagonals"), app.state.sheets.gridDiagonals, (gridDiagonals) => change({ gridDiagonals }));
  const sum = h("p", { class: "note grid-sum", role: "status" });
  const more = h("div", { class: "grid-more" }, chips, sum, h("div", { class: "fields" }, side, weight.element), diagonals);
  let suggested = [];
  let own = null;
  let unit = "";

  /** The middle one of the suggested sizes; USUAL squares while there are none. */
  function firstMm() {
    const { widthMm, heightMm } = pictureOf(app.state);
    return suggested[Math.floor(suggested.length / 2)] ?? Math.max(Math.round(Math.max(widthMm, heightMm) / USUAL), LEAST_MM);
  }

  function drawSide() {
    unit = app.state.paper.unit;
    own = stepper({
      label: t("squares.square"), unit, less: t("squares.smaller"), more: t("squares.larger"), step: STEP_MM[unit],
      write: (mm) => writeLength(mm, unit, t.language), read: (text) => readLength(text, unit),
      change: (mm) => change({ gridMm: clamp(mm, LEAST_MM, mostMm()) }),
    });
    fill(side, own.element);
  }

  function mostMm() {
    const { widthMm, heightMm } = pictureOf(app.state);
    return Math.min(Math.max(widthMm, heightMm), MOST_MM);
  }

  function drawChips() {
    fill(chips, suggested.map((mm) => h("button", {
      type: "button", class: "chip", data: { mm }, on: { click: () => change({ gridMm: mm }) },
    }, writeLengthUnit(mm, unit, t.language))));
    markChips();
  }

  function markChips() {
    const { gridMm } = app.state.sheets;
    for (const chip of chips.children) {
      chip.setAttribute("aria-pressed", String(gridMm !== null && Math.abs(Number(chip.dataset.mm) - gridMm) < SAME_MM));
    }
  }

  return {
    element: h("div", { class: "grid-controls" }, on, more),
    sync({ sheets, paper }) {
      if (paper.unit !== unit) {
        drawSide();
        drawChips();
      }
      on.querySelector("input").checked = sheets.gridMm !== null;
      diagonals.querySelector("input").checked = sheets.gridDiagonals;
      more.hidden = sheets.gridMm === null;
      if (sheets.gridMm !== null) own.show(sheets.gridMm);
      weight.show(sheets.gridLineMm);
      markChips();
    },
    showPlan({ grid }) {
      if (!grid) return;
      if (grid.suggested_mm.join() !== suggested.join()) {
        suggested = grid.suggested_mm;
        drawChips();
      }
      sum.textContent = grid.square_mm === null ? "" : t("squares.sum", {
        columns: t("squares.columns", { count: grid.columns }), rows: t("squares.rows", { count: grid.rows }),
        times: t.number(grid.enlargement, 2), small: writeLengthUnit(grid.square_mm / grid.enlargement, unit, t.language),
      });
    },
  };
}
