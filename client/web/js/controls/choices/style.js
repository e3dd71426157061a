// The controls of the printed style: grey, colour, lines to trace, lines over a faint grey, or a
// few flat tones, each a small picture of this photo; and the settings of each.

import { fill, h } from "../../lib/browser/dom.js";
import { choice, field, stepper, toggle } from "../fields.js";
import { clamp } from "../../lib/geometry/crop.js";
import { lengthStepper } from "../length-field.js";
import { lineWeightStepper } from "../line-weight-field.js";
import { isLined, STYLES } from "../../state/state.js";
import { readNumber } from "../../lib/texts/units.js";

const TONE_STEP = 0.1;
const DETAIL_STEP = 0.05;
/** The service's limit. */
const LONGEST_SHORTEST_MM = 50;
const TWO_DIGITS = 100;
/** Enough for tracing, and the resolution of a healthy eye (one minute of arc) at 30 cm. */
const USUAL_PPI = 200;
const FINE_PPI = 300;

/**
 * @param {object} app
 * @param {object} pictures see draw/style-pictures.js
 * @returns {{styles: Element, settings: Element, fine: Element, mirror: Element, blackOnly: Element,
 *   sync: function(object), found: function(number[], number[]|null)}} `settings` are those of the
 *   chosen style; `found(thresholds, greys)` shows the thresholds that the service found, and the
 *   printed greys
 */
export function printControls(app, pictures) {
  const { t } = app;
  const change = (sheets) => app.update({ sheets });
  const label = (style) => h("span", { class: "style-label" }, pictures.of(style), h("span", { text: t(`style.${style}`) }));
  const styles = choice("style", t("style.title"), STYLES.map((one) => [one, label(one)]), app.state.sheets.style, take, { hideLegend: true });
  const tones = toneFields(t, change);
  const lines = lineFields(app, change);
  const valuesPlace = h("div");
  // A class may fix each of these by itself.
  const apart = (name, on, take_) => h("fieldset", {}, h("legend", { class: "unseen", text: t(`sheets.${name}`) }),
    toggle(t(`sheets.${name}`), on, take_), h("p", { class: "note", text: t(`sheets.${name}-note`) }));
  const fine = apart("fine", app.state.sheets.ppi > USUAL_PPI, (on) => change({ ppi: on ? FINE_PPI : USUAL_PPI }));
  const blackOnly = apart("black-only", app.state.sheets.blackOnly, (on) => change({ blackOnly: on }));
  const mirror = apart("mirror", app.state.sheets.mirror, (on) => change({ mirror: on }));
  let values = null;
  let parted = null;

  /** Set the style, and show the print instead of the photo. */
  function take(style) {
    app.update({ sheets: { style }, ...(app.state.view === "photo" ? { view: null } : {}) });
  }

  /** Load the controls of values when the style is first chosen. */
  async function loadValues() {
    const { valueControls } = await import("./tone.js");
    if (values) return;
    values = valueControls(app, change);
    fill(valuesPlace, values.element);
    if (parted) values.found(...parted);
    values.sync(app.state);
  }

  return {
    styles: h("div", { class: "styles" }, styles),
    settings: h("fieldset", { class: "panel-part" }, h("legend", { class: "unseen", text: t("style.settings") }),
      lines.element, valuesPlace, tones.strength, tones.element),
    fine, mirror, blackOnly,
    found(...found) {
      parted = found;
      values?.found(...found);
    },
    sync(state) {
      const { sheets } = state;
      for (const radio of styles.querySelectorAll("input")) radio.checked = radio.value === sheets.style;
      lines.element.hidden = !isLined(sheets);
      // Lines are vectors without a resolution.
      for (const part of [tones.element, fine]) part.hidden = sheets.style === "outline";
      valuesPlace.hidden = sheets.style !== "values";
      lines.sync(sheets);
      tones.sync(sheets);
      if (sheets.style === "values" && !values) loadValues();
      values?.sync(state);
    },
  };
}

const percent = (t) => ({
  unit: "%", write: (value) => t.number(value * TWO_DIGITS),
  read(text) {
    const read = readNumber(text);
    return read === null ? null : read / TWO_DIGITS;
  },
});
const toHundredth = (value) => Math.round(value * TWO_DIGITS) / TWO_DIGITS;

function toneFields(t, change) {
  const share = (name, low) => stepper({
    label: t(`sheets.${name}`), less: t(`sheets.${name}-less`), more: t(`sheets.${name}-more`), step: TONE_STEP, ...percent(t),
    change: (value) => change({ [name]: clamp(toHundredth(value), low, 1) }),
  });
  const tones = { lighten: share("lighten", 0), contrast: share("contrast", -1), lift: share("lift", 0) };
  const full = toggle(t("sheets.full-strength"), false, (on) => change({ fullStrength: on }));
  const strength = h("div", {}, full, h("p", { class: "note", text: t("sheets.full-strength-note") }));
  return {
    strength,
    element: h("div", { class: "fields" }, tones.lighten.element, tones.contrast.element, tones.lift.element),
    sync(sheets) {
      strength.hidden = sheets.style !== "grey";
      full.querySelector("input").checked = sheets.fullStrength;
      tones.lift.element.hidden = sheets.style === "values";
      for (const [name, { show }] of Object.entries(tones)) show(sheets[name]);
    },
  };
}

function lineFields(app, change) {
  const { t } = app;
  const weight = lineWeightStepper(t, { label: t("style.line"), change: (lineMm) => change({ lineMm }) });
  const shortest = lengthStepper(app, "shortest", LONGEST_SHORTEST_MM, (shortestMm) => change({ shortestMm }));
  const shadows = choice("shadows", t("style.shadows"), ["none", "light", "dashed"].map((one) => [one, t(`style.shadows-${one}`)]),
    app.state.sheets.shadows, (one) => change({ shadows: one }));
  const take = (value) => change({ detail: clamp(toHundredth(value), 0, 1) });
  const slider = h("input", {
    type: "range", min: 0, max: 1, step: DETAIL_STEP, on: { input: () => take(Number(slider.value)) },
  });
  const detail = stepper({
    label: t("style.detail-percent"), less: t("style.detail-less"), more: t("style.detail-more"), step: DETAIL_STEP,
    ...percent(t), change: take,
  });
  return {
    element: h("div", { class: "line-fields" },
      field(t("style.detail"), slider).element,
      h("div", { class: "fields" }, detail.element, weight.element, shortest.element),
      shadows),
    sync({ lineMm, detail: share, shortestMm, shadows: chosen }) {
      for (const radio of shadows.querySelectorAll("input")) radio.checked = radio.value === chosen;
      weight.show(lineMm);
      shortest.show(shortestMm);
      detail.show(share);
      slider.value = share;
      slider.setAttribute("aria-valuetext", t("style.detail-is", { percent: Math.round(share * TWO_DIGITS) }));
    },
  };
}
