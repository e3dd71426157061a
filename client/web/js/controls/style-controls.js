// The controls of the printed style: grey, colour, lines to trace, lines over a faint grey, or a
// few flat tones; and the settings of each.

import { fill, h, svg } from "../lib/dom.js";
import { choice, field, stepper, toggle } from "./fields.js";
import { clamp } from "../lib/geometry.js";
import { lengthStepper } from "./length-field.js";
import { lineWeightStepper } from "./line-weight-field.js";
import { isLined, STYLES } from "../state/state.js";
import { readNumber } from "../lib/units.js";

const TONE_STEP = 0.1;
const DETAIL_STEP = 0.05;
/** The service's limit. */
const LONGEST_SHORTEST_MM = 50;
const TWO_DIGITS = 100;
/** Enough for tracing, and the resolution of a healthy eye (one minute of arc) at 30 cm. */
const USUAL_PPI = 200;
const FINE_PPI = 300;

/**
 * Style, its own choices, fineness, and mirroring.
 * @returns {{element, fine: Element, mirror: Element, blackOnly: Element, sync: function(object), found: function(number[], number[]|null)}}
 *   `found(thresholds, greys)` shows the thresholds that the service found, and the printed greys
 */
export function printControls(app) {
  const { t } = app;
  const change = (sheets) => app.update({ sheets });
  const styles = choice("style", t("style.title"), STYLES.map((one) => [one, styleLabel(t, one)]),
    app.state.sheets.style, take);
  const note = h("p", { class: "note" });
  const tones = toneFields(t, change);
  const lines = lineFields(app, change);
  const valuesPlace = h("div", { class: "values-place" });
  // A class may fix each of these by itself.
  const apart = (name, on, take_) => h("fieldset", {}, h("legend", { class: "unseen", text: t(`sheets.${name}`) }),
    toggle(t(`sheets.${name}`), on, take_), h("p", { class: "note", text: t(`sheets.${name}-note`) }));
  const fine = apart("fine", app.state.sheets.ppi > USUAL_PPI, (on) => change({ ppi: on ? FINE_PPI : USUAL_PPI }));
  const blackOnly = apart("black-only", app.state.sheets.blackOnly, (on) => change({ blackOnly: on }));
  const mirror = apart("mirror", app.state.sheets.mirror, (on) => change({ mirror: on }));
  const element = h("div", { class: "print-choices" },
    h("div", { class: "styles" }, styles, note), lines.element, valuesPlace, tones.strength, tones.element);
  let values = null;
  let parted = null;

  /** Set the style, and show the print instead of the photo. */
  function take(style) {
    app.update({ sheets: { style }, ...(app.state.view === "photo" ? { view: null } : {}) });
  }

  /** Load the controls of values when the style is first chosen. */
  async function loadValues() {
    const { valueControls } = await import("./tone-controls.js");
    if (values) return;
    values = valueControls(app, change);
    fill(valuesPlace, values.element);
    if (parted) values.found(...parted);
    values.sync(app.state);
  }

  return {
    element, fine, mirror, blackOnly,
    found(...found) {
      parted = found;
      values?.found(...found);
    },
    sync(state) {
      const { sheets } = state;
      for (const radio of styles.querySelectorAll("input")) radio.checked = radio.value === sheets.style;
      note.textContent = t(`style.note-${sheets.style}`);
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

/** An icon of a style: the same ball in each. */
function styleLabel(t, style) {
  return h("span", { class: "style-label" },
    svg("svg", { class: `ball ball-${style}`, viewBox: "0 0 32 32", "aria-hidden": "true" }, BALLS[style]()),
    h("span", { text: t(`style.${style}`) }));
}

const disc = (name, r, x = 16, y = 16) => svg("circle", { class: name, cx: x, cy: y, r });
const outlined = () => [disc("ball-line", 13), svg("path", { class: "ball-inner", d: "M8 20c3 5 10 6 15 2" })];
/** A shaded ball, lit from the upper left, in a few rings. */
const shaded = () => [
  disc("ball-1", 13), disc("ball-2", 11.2, 14.6, 14.6), disc("ball-3", 9, 13.2, 13.2), disc("ball-4", 6.5, 12, 12),
  disc("ball-5", 3.6, 11, 11),
];
const BALLS = {
  grey: shaded,
  colour: shaded,
  outline: outlined,
  mixed: () => [shaded(), outlined()],
  values: () => [disc("ball-1", 13), disc("ball-3", 10.4, 13.6, 13.6), disc("ball-5", 6.4, 11.4, 11.4), disc("ball-line", 13)],
};

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
      field(t("style.detail"), slider, { note: t("style.detail-note") }).element,
      h("div", { class: "fields" }, detail.element, shortest.element, weight.element),
      h("p", { class: "note", text: t("style.line-note") }),
      shadows, h("p", { class: "note", text: t("style.shadows-note") })),
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
