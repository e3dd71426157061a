// The controls of the sheets: seams, formats side by side, and tones. Each knows how to follow
// the state when something else than the person's own finger has changed it.

import { fill, h } from "./dom.js";
import { choice, stepper, toggle } from "./fields.js";
import { clamp } from "./geometry.js";
import { SEAM_CHOICES } from "./sheet-costs.js";
import { MM_PER_INCH, readLength, readNumber, writeLength } from "./units.js";

/** The service's own limit, and the least that can be cut. */
const MOST_LAP_MM = 30;
const LEAST_LAP_MM = 1;
const TONE_STEP = 0.1;
/** Compared beside the format that is chosen. */
const COMPARED = ["iso_a4_210x297mm", "iso_a3_297x420mm", "na_letter_8.5x11in"];

function follow(element, name, value) {
  for (const radio of element.querySelectorAll(`input[name="${name}"]`)) radio.checked = radio.value === value;
}

/** How the seams run, meet and join. @returns {{element, sync: function(object)}} */
export function seamControls(app, costs) {
  const { t } = app;
  const one = ([name, values]) => h("div", {},
    choice(name, t(`sheets.${name}`), values.map((value) => [value, costs.label(`${name}-${value}`, t(`sheets.${value}`))]),
      app.state.sheets[name], (value) => app.update({ sheets: { [name]: value } })),
    h("p", { class: "note", text: t(`sheets.${name}-note`) }));
  const lap = lapStepper(app);
  const element = h("div", { class: "seam-choices" }, Object.entries(SEAM_CHOICES).map(one), lap.element);
  return {
    element,
    sync({ sheets }) {
      for (const name of Object.keys(SEAM_CHOICES)) follow(element, name, sheets[name]);
      lap.show(sheets.lapMm);
      lap.element.hidden = sheets.joint !== "lap";
    },
  };
}

function lapStepper(app) {
  const { t } = app;
  const unit = app.state.paper.unit === "in" ? "in" : "mm";
  return stepper({
    label: t("sheets.lap-width"), unit, less: t("sheets.lap-less"), more: t("sheets.lap-more"),
    step: unit === "in" ? MM_PER_INCH / 16 : 1,
    write: (mm) => writeLength(mm, unit, t.language), read: (text) => readLength(text, unit),
    change: (mm) => app.update({ sheets: { lapMm: clamp(mm, LEAST_LAP_MM, MOST_LAP_MM) } }),
  });
}

/** Colours, tones and mirroring. @returns {{element, sync: function(object)}} */
export function printControls(app) {
  const { t } = app;
  const share = (name, low) => stepper({
    label: t(`sheets.${name}`), unit: "%", less: t(`sheets.${name}-less`), more: t(`sheets.${name}-more`), step: TONE_STEP,
    write: (value) => t.number(value * 100), read: percentOf,
    change: (value) => app.update({ sheets: { [name]: clamp(Math.round(value * 100) / 100, low, 1) } }),
  });
  const tones = { lighten: share("lighten", 0), contrast: share("contrast", -1) };
  const mirror = toggle(t("sheets.mirror"), app.state.sheets.mirror, (on) => app.update({ sheets: { mirror: on } }));
  const element = h("div", { class: "print-choices" },
    choice("style", t("sheets.style"), ["grey", "colour"].map((value) => [value, t(`sheets.${value}`)]),
      app.state.sheets.style, (style) => app.update({ sheets: { style } })),
    h("div", { class: "fields" }, tones.lighten.element, tones.contrast.element));
  return {
    element,
    mirror: h("fieldset", { class: "mirror-group" }, h("legend", { class: "unseen", text: t("sheets.mirror") }),
      mirror, h("p", { class: "note", text: t("sheets.mirror-note") })),
    sync({ sheets }) {
      follow(element, "style", sheets.style);
      for (const [name, { show }] of Object.entries(tones)) show(sheets[name]);
    },
  };
}

function percentOf(text) {
  const read = readNumber(text);
  return read === null ? null : read / 100;
}

/**
 * Sheet formats side by side, each drawn as large beside the others as it is.
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
