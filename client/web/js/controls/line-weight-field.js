// Line weights in the steps of drawing pens, so that printed lines can be continued with a pen.

import { fill, h, svg } from "../lib/browser/dom.js";
import { stepper } from "./fields.js";
import { readNumber } from "../lib/texts/units.js";

/** Widths of drawing pens in mm (ISO 9175-1), up to that of a felt pen. */
export const PEN_WIDTHS_MM = [0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1, 1.4, 2];
/** A CSS millimetre (CSS Values and Units): about what a line measures at arm's length. */
const PX_PER_MM = 96 / 25.4;

/** The pen width nearest to a requested one; a different one if the request differs from `now`. */
export function nearestPenWidth(asked, now) {
  const distance = (pen) => Math.abs(Math.log(pen / Math.max(asked, 0.01)));
  const nearest = PEN_WIDTHS_MM.reduce((best, pen) => (distance(pen) < distance(best) ? pen : best));
  if (nearest !== now || asked === now) return nearest;
  const next = PEN_WIDTHS_MM.indexOf(now) + Math.sign(asked - now);
  return PEN_WIDTHS_MM[Math.min(Math.max(next, 0), PEN_WIDTHS_MM.length - 1)];
}

/**
 * A stepper for a line weight, with a sample line beside the figure.
 * @param {object} t
 * @param {{label: string, most?: number, change: function(number)}} how
 * @returns {{element, show: function(number)}}
 */
export function lineWeightStepper(t, { label, most = Infinity, change }) {
  const sample = h("span", { class: "pen-sample", "aria-hidden": "true" });
  let now = PEN_WIDTHS_MM[3];
  const { element, show } = stepper({
    label, unit: "mm", less: t("aids.finer", { what: label }), more: t("aids.heavier", { what: label }),
    step: 0.001, read: readNumber, write: (mm) => t.number(mm, 2),
    change: (asked) => change(Math.min(nearestPenWidth(asked, now), most)),
  });
  element.querySelector(".stepper-value").prepend(sample);
  return {
    element,
    show(mm) {
      now = mm;
      show(mm);
      fill(sample, svg("svg", { viewBox: "0 0 40 12" },
        svg("path", { d: "M2 9C12 1 22 11 38 4", "stroke-width": Math.max(mm * PX_PER_MM, 0.5) })));
    },
  };
}
