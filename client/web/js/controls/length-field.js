// Fields for a length, parsed while it is typed, in the chosen unit.

import { field, stepper } from "./fields.js";
import { h } from "../lib/browser/dom.js";
import { clamp } from "../lib/geometry/crop.js";
import { MM_PER_INCH, readLength, workUnit, writeLength, writeLengthUnit } from "../lib/texts/units.js";

/** Tolerance of comparisons with a limit. */
const HAIR_MM = 0.06;

/**
 * @param {object} t
 * @param {object} how
 * @param {string} how.label
 * @param {number} how.mm
 * @param {"cm"|"mm"|"in"} how.unit
 * @param {function(): number} how.most In mm.
 * @param {function(number)} how.change Called with each valid length.
 * @param {string} [how.note]
 * @returns {HTMLElement}
 */
export function lengthField(t, { label, mm, unit, most, change, note = "" }) {
  const input = lengthInput(unit, writeLength(mm, unit, t.language), () => {
    const asked = readLength(input.value, unit);
    const right = asked !== null && asked <= most() + HAIR_MM;
    shown.note(right ? note : t("unit.up-to", { most: writeLengthUnit(most(), unit, t.language) }), !right);
    if (right) change(Math.min(asked, most()));
  });
  const shown = field(label, input, { note, unit });
  return shown.element;
}

/** The input alone; inches need a keyboard with the slash of fractions, which number pads lack. */
export function lengthInput(unit, value, typed) {
  return h("input", {
    type: "text", inputmode: unit === "in" ? "text" : "decimal", autocomplete: "off", maxlength: 40, value,
    on: { input: typed },
  });
}

/** A stepper for a small length of the style, in the unit of a ruler. */
export function lengthStepper(app, name, mostMm, change) {
  const { t } = app;
  const unit = workUnit(app.state.paper.unit);
  return stepper({
    label: t(`style.${name}`), unit, less: t(`style.${name}-less`), more: t(`style.${name}-more`),
    step: unit === "in" ? MM_PER_INCH / 16 : 1,
    write: (mm) => writeLength(mm, unit, t.language), read: (text) => readLength(text, unit),
    change: (mm) => change(clamp(mm, 0, mostMm)),
  });
}
