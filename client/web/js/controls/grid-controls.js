// The grid for drawing by eye: whether there is one, how large its squares are, and what they
// come to on this picture.

import { fill, h } from "../lib/dom.js";
import { stepper, toggle } from "./fields.js";
import { clamp } from "../lib/geometry.js";
import { lineWeightStepper } from "./line-weight-field.js";
import { pictureOf } from "../state/state.js";
import { MM_PER_INCH, readLength, writeLength, writeLengthUnit } from "../lib/units.js";

/** The service's own limits. */
const LEAST_MM = 5;
const MOST_MM = 2000;
/** Heavier lines would hide what is copied. */
const HEAVIEST_MM = 0.7;
/** A length is the same when it differs by less than a hair. */
const SAME_MM = 0.06;
/** What the eye copies well: about so many squares along the longer side (common practice). */
const USUAL = 8;
const STEP_MM = { cm: 5, mm: 5, in: MM_PER_INCH / 4 };

/** @returns {{element, sync: function(object), tell: function(object)}} `tell` takes each plan */
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

  /** In the middle of what is suggested; a round number of squares while nothing is. */
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
