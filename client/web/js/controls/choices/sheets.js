// The controls of seams and sheet formats. `sync` updates them after a change of the state from
// elsewhere.

import { fill, h } from "../../lib/browser/dom.js";
import { choice, stepper, toggle } from "../fields.js";
import { clamp } from "../../lib/geometry/crop.js";
import { SEAM_CHOICES } from "../plan/choice-costs.js";
import { MM_PER_INCH, readLength, workUnit, writeLength } from "../../lib/texts/units.js";

/** The service's limit, and the narrowest lap that can be cut. */
const MOST_LAP_MM = 30;
const LEAST_LAP_MM = 1;
/** Formats that are shown beside the chosen one. */
const COMPARED = ["iso_a4_210x297mm", "iso_a3_297x420mm", "na_letter_8.5x11in"];

function follow(element, name, value) {
  for (const radio of element.querySelectorAll(`input[name="${name}"]`)) radio.checked = radio.value === value;
}

/** Placement, arrangement, joint and register marks of the seams. @returns {{element, sync: function(object)}} */
export function seamControls(app, costs) {
  const { t } = app;
  const one = ([name, values]) => h("div", {},
    choice(name, t(`sheets.${name}`), values.map((value) => [value, costs.drawnLabel(`${name}-${value}`, t(`sheets.${value}`))]),
      app.state.sheets[name], (value) => app.update({ sheets: { [name]: value } })));
  const lap = lapStepper(app);
  const marks = toggle(t("sheets.register-marks"), app.state.sheets.registerMarks, (registerMarks) => app.update({ sheets: { registerMarks } }));
  const element = h("div", { class: "seam-choices" }, Object.entries(SEAM_CHOICES).map(one), lap.element, marks);
  return {
    element,
    sync({ sheets }) {
      for (const name of Object.keys(SEAM_CHOICES)) follow(element, name, sheets[name]);
      marks.querySelector("input").checked = sheets.registerMarks;
      lap.show(sheets.lapMm);
      lap.element.hidden = sheets.joint !== "lap";
    },
  };
}

function lapStepper(app) {
  const { t } = app;
  const unit = workUnit(app.state.paper.unit);
  return stepper({
    label: t("sheets.lap-width"), unit, less: t("sheets.lap-less"), more: t("sheets.lap-more"),
    step: unit === "in" ? MM_PER_INCH / 16 : 1,
    write: (mm) => writeLength(mm, unit, t.language), read: (text) => readLength(text, unit),
    change: (mm) => app.update({ sheets: { lapMm: clamp(mm, LEAST_LAP_MM, MOST_LAP_MM) } }),
  });
}

/**
 * Sheet formats side by side, drawn to the same scale.
 * @returns {{element, load: function(Array), names: function(): string[],
 *   titleOf: function(string): string, sync: function(object)}}
 */
export function formatControls(app, costs) {
  const { t } = app;
  const element = h("div", { class: "formats" });
  let formats = [];
  let drawn = "";

  const find = (name) => formats.find((one) => one.name === name);
  const compared = () => [...new Set([...COMPARED, app.state.paper.sheetFormat])].filter(find);

  function draw() {
    const shown = compared().map(find);
    drawn = compared().join();
    const tallest = Math.max(...shown.map((one) => one.height_mm));
    fill(element, choice("format", t("sheets.compare"), shown.map((one) => [one.name, leafLabel(one, tallest)]),
      app.state.paper.sheetFormat, (sheetFormat) => app.update({ paper: { sheetFormat } }), { hideLegend: true }));
  }

  function leafLabel(one, tallest) {
    const leaf = h("span", { class: "leaf" });
    leaf.style.height = `${(one.height_mm / tallest) * 100}%`;
    leaf.style.aspectRatio = `${one.width_mm} / ${one.height_mm}`;
    return h("span", { class: "format" },
      h("span", { class: "leaf-place", "aria-hidden": "true" }, leaf), costs.label(`format-${one.name}`, one.title));
  }

  return {
    element,
    load(found) {
      formats = found;
      draw();
    },
    names: compared,
    titleOf: (name) => find(name)?.title ?? "",
    sync({ paper }) {
      if (drawn !== compared().join()) draw();
      follow(element, "format", paper.sheetFormat);
    },
  };
}
