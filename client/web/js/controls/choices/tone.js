// The controls of a picture in values: the number of tones, and the thresholds between them on
// the scale from black to white, found in the picture or set by hand with handles that keys and
// number fields move too (WCAG 2.2, 2.5.7).

import { fill, h } from "../../lib/browser/dom.js";
import { choice, stepper } from "../fields.js";
import { clamp } from "../../lib/geometry/crop.js";
import { lengthStepper } from "../length-field.js";
import { readNumber } from "../../lib/texts/units.js";

/** The service's limits. */
const COUNTS = ["3", "4", "5", "6", "7"];
const WIDEST_SMALLEST_MM = 20;
/** Narrower tones could not be distinguished, and their handles would overlap. */
const LEAST_TONE = 0.02;
const STEP = 0.01;
const KEYS = {
  ArrowLeft: -STEP, ArrowDown: -STEP, ArrowRight: STEP, ArrowUp: STEP, PageDown: -5 * STEP, PageUp: 5 * STEP,
};
const TWO_DIGITS = 100;

/** The thresholds resampled to another number of tones. */
export function resampledThresholds(thresholds, count) {
  const ends = [0, ...thresholds, 1];
  return Array.from({ length: count - 1 }, (_, index) => {
    const place = ((index + 1) / count) * (ends.length - 1);
    const below = Math.floor(place);
    return rounded(ends[below] + (ends[below + 1] - ends[below]) * (place - below));
  });
}

/** The thresholds with one moved, limited by its neighbours. */
export function movedThreshold(thresholds, index, value) {
  const low = (thresholds[index - 1] ?? 0) + LEAST_TONE;
  const high = (thresholds[index + 1] ?? 1) - LEAST_TONE;
  return thresholds.map((one, at) => (at === index ? rounded(clamp(value, low, high)) : one));
}

const rounded = (value) => Math.round(value * 1000) / 1000;

/**
 * @param {object} app
 * @param {function(object)} change takes a change of the state's sheets
 * @returns {{element, sync: function(object), found: function(number[], number[]|null)}}
 */
export function valueControls(app, change) {
  const { t } = app;
  const counts = choice("tones", t("values.count"), COUNTS.map((one) => [one, one]), "5", recount);
  const ways = choice("parting", t("values.parting"), ["found", "hand"].map((one) => [one, t(`values.${one}`)]), "found", take);
  const smallest = lengthStepper(app, "smallest", WIDEST_SMALLEST_MM, (smallestMm) => change({ smallestMm }));
  const scale = toneScale(t, move);
  const figures = h("div", { class: "fields" });
  let found = null;
  let printed = null;
  let steppers = [];

  const now = () => app.state.sheets.thresholds ?? foundNow();

  /** The thresholds found for the current number of tones; null if they belong to another. */
  function foundNow() {
    const { tones } = app.state.sheets;
    return found?.length === tones - 1 ? found : resampledThresholds([], tones);
  }

  function recount(count) {
    const { thresholds } = app.state.sheets;
    change({ tones: Number(count), thresholds: thresholds && resampledThresholds(thresholds, Number(count)) });
  }

  function take(way) {
    change({ thresholds: way === "hand" ? foundNow().map(rounded) : null });
  }

  function move(index, value) {
    change({ thresholds: movedThreshold(now(), index, value) });
  }

  function drawFigures(count) {
    const names = (index) => ({ one: index + 1, other: index + 2 });
    steppers = Array.from({ length: count - 1 }, (_, index) => stepper({
      label: t("values.between", names(index)), unit: "%", step: STEP,
      less: t("values.darker", names(index)), more: t("values.lighter", names(index)),
      write: (value) => t.number(value * TWO_DIGITS, 1),
      read(text) {
        const read = readNumber(text);
        return read === null ? null : read / TWO_DIGITS;
      },
      change: (value) => move(index, value),
    }));
    fill(figures, steppers.map((one) => one.element));
  }

  function sync({ sheets }) {
    const thresholds = now();
    for (const radio of counts.querySelectorAll("input")) radio.checked = radio.value === String(sheets.tones);
    for (const radio of ways.querySelectorAll("input")) radio.checked = radio.value === (sheets.thresholds ? "hand" : "found");
    if (steppers.length !== thresholds.length) drawFigures(sheets.tones);
    steppers.forEach(({ show }, index) => show(thresholds[index]));
    scale.show(thresholds, printed?.length === sheets.tones ? printed : null);
    smallest.show(sheets.smallestMm);
  }

  return {
    element: h("div", { class: "values-fields" }, counts, ways,
      h("p", { class: "note", text: t("values.parting-note") }), scale.element,
      h("details", {}, h("summary", { text: t("values.figures") }), figures),
      smallest.element, h("p", { class: "note", text: t("values.smallest-note") })),
    sync,
    found(thresholds, greys) {
      found = thresholds;
      printed = greys;
      sync(app.state);
    },
  };
}

/** The scale from black to white, with a handle at each threshold. */
function toneScale(t, move) {
  const patches = h("div", { class: "scale-tones", "aria-hidden": "true" });
  const handles = h("div");
  const element = h("div", {
    class: "scale", role: "group", "aria-label": t("values.scale"),
    on: { pointerdown: press, pointermove: drag, pointerup: release, pointercancel: release },
  }, h("div", { class: "scale-greys", "aria-hidden": "true" }), patches, handles);
  let thresholds = [];
  let held = -1;

  function placeOf(event) {
    const box = element.getBoundingClientRect();
    return clamp((event.clientX - box.left) / box.width, 0, 1);
  }

  /** The nearest handle moves to the finger: none has to be hit. */
  function press(event) {
    if (event.button !== 0) return;
    event.preventDefault();
    const place = placeOf(event);
    const distance = (index) => Math.abs(thresholds[index] - place);
    held = thresholds.reduce((best, _, index) => (distance(index) < distance(best) ? index : best), 0);
    element.setPointerCapture(event.pointerId);
    handles.children[held].focus({ preventScroll: true });
    move(held, place);
  }

  function drag(event) {
    if (held >= 0) move(held, placeOf(event));
  }

  function release() {
    held = -1;
  }

  function pressKey(event, index) {
    if (!(event.key in KEYS)) return;
    event.preventDefault();
    move(index, thresholds[index] + KEYS[event.key]);
  }

  function handle(index) {
    return h("span", {
      class: "scale-handle", role: "slider", tabindex: 0, "aria-label": t("values.between", { one: index + 1, other: index + 2 }),
      "aria-valuemin": 0, "aria-valuemax": 100, on: { keydown: (event) => pressKey(event, index) },
    });
  }

  return {
    element,
    /** Patches show the printed greys; even steps while those are unknown. */
    show(next, greys) {
      if (next.length !== thresholds.length) fill(handles, next.map((_, index) => handle(index)));
      thresholds = next;
      const ends = [0, ...next, 1];
      fill(patches, ends.slice(1).map((end, index) => {
        const patch = h("span", {});
        patch.style.width = `${(end - ends[index]) * 100}%`;
        const grey = greys?.[index] ?? Math.round((255 * index) / next.length);
        patch.style.backgroundColor = `rgb(${grey} ${grey} ${grey})`;
        return patch;
      }));
      next.forEach((value, index) => {
        const one = handles.children[index];
        one.style.left = `${value * 100}%`;
        one.setAttribute("aria-valuenow", Math.round(value * TWO_DIGITS));
        one.setAttribute("aria-valuetext", t("values.at", { percent: t.number(value * TWO_DIGITS, 1) }));
      });
    },
  };
}
