// Suggestions of the plan that save sheets, each applied with one tap. Fields that a class fixes
// are not offered.

import { h } from "../../lib/browser/dom.js";
import { mayChangeField } from "../../state/class-defaults.js";
import { printerPatch } from "../../state/state.js";
import { workUnit, writeLengthUnit } from "../../lib/texts/units.js";

/** The least intrusive come first; other sheet formats are compared further down. */
const MOST_SHOWN = 3;

/** For each kind of change: its field of the spec, its label, and its change of the state. */
const KINDS = [
  {
    is: (change) => change.across_correction || change.down_correction,
    paths: ["print.across_correction", "print.down_correction"],
    name: (t) => t("sheets.fewer.correction"),
    patch: (change, { sheets }) => ({
      sheets: {
        ...printerPatch(null).sheets,
        acrossCorrection: change.across_correction ?? sheets.acrossCorrection,
        downCorrection: change.down_correction ?? sheets.downCorrection,
      },
    }),
  },
  {
    is: (change) => change.margin_mm !== undefined,
    paths: ["sheet.margin_mm"],
    name: (t, { margin_mm: mm }, { paper }) => t("sheets.fewer.margins", { length: writeLengthUnit(mm, workUnit(paper.unit), t.language) }),
    patch: ({ margin_mm: mm }) => ({ paper: { margin: { top: mm, right: mm, bottom: mm, left: mm }, marginPreset: "own" } }),
  },
  {
    is: (change) => change.width_mm !== undefined,
    paths: ["support.width_mm", "support.height_mm"],
    name: (t, change, { paper }) => {
      const [key, mm, own] = change.width_mm === paper.widthMm
        ? ["sheets.fewer.height", change.height_mm, paper.heightMm] : ["sheets.fewer.width", change.width_mm, paper.widthMm];
      const length = (one) => writeLengthUnit(one, paper.unit, t.language);
      return t(key, { length: length(mm), own: length(own) });
    },
    patch: (change) => ({ paper: { widthMm: change.width_mm, heightMm: change.height_mm } }),
  },
  {
    is: (change) => change.arrangement !== undefined,
    paths: ["seams.arrangement"],
    name: (t) => t("sheets.stagger"),
    patch: ({ arrangement }) => ({ sheets: { arrangement } }),
  },
  {
    is: (change) => change.format !== undefined,
    paths: ["sheet.format"],
    name: (t, { format }, state, titleOf) => titleOf(format),
    patch: ({ format }) => ({ paper: { sheetFormat: format } }),
  },
];

/**
 * The changes that save sheets, as buttons.
 * @param {object} app
 * @param {object} plan of the current state
 * @param {function(string): string} titleOf a sheet format's title; empty while it is unknown
 * @returns {Node|null}
 */
export function fewerSheets(app, plan, titleOf) {
  const { t, state } = app;
  const mayChange = state.settled?.mayChange ?? null;
  const offers = plan.suggestions.flatMap(({ change, sheet_count: count }) => {
    const kind = KINDS.find((one) => one.is(change));
    const name = kind?.paths.every((path) => mayChangeField(mayChange, path)) && kind.name(t, change, state, titleOf);
    return name ? [{ name, count, patch: kind.patch(change, state) }] : [];
  });
  if (!offers.length) return null;
  const button = ({ name, count, patch }) => h("button", {
    type: "button", class: "button", on: { click: () => app.update(patch) },
  }, t("sheets.fewer.offer", { change: name, sheets: t("common.sheets", { count }) }));
  return h("div", { class: "notice fewer" },
    h("p", { text: t("sheets.fewer.title", { sheets: t("common.sheets", { count: plan.sheet_count }) }) }),
    h("div", { class: "button-row" }, offers.slice(0, MOST_SHOWN).map(button)));
}
