// Grades of a plan's finest line, with the thresholds of worker/layout/advice.py, so that the
// page and the printed guide agree.

import { MM_PER_INCH } from "../texts/units.js";

/** One minute of arc at 30 cm, the resolution of a healthy eye; twice that is a line and its gap. */
const FINEST_SEEN_MM = 2 * 300 * Math.tan(Math.PI / 180 / 60);
/** The pen width of the detail map (ISO 9175-1). */
const PEN_MM = 0.5;

/**
 * @param {object} plan As the API gives it.
 * @returns {{grade: "eye"|"pen"|"little"|"soft", finestMm: number}}
 */
export function sharpnessOf(plan) {
  const finestMm = plan.resolution.finest_line_mm;
  const grades = [["eye", FINEST_SEEN_MM], ["pen", PEN_MM], ["little", 2 * PEN_MM], ["soft", Infinity]];
  return { grade: grades.find(([, most]) => finestMm <= most)[0], finestMm };
}

/**
 * What a blurred photo is worth, in pixels that it resolves, to two digits; more are not known.
 * @param {object} plan
 * @returns {{width: number, height: number}|null} Null where the plan says nothing of blur.
 */
export function resolvedSizeOf(plan) {
  if (!plan.warnings.some((warning) => warning.code === "reference-blurred")) return null;
  const { picture, crop, resolution } = plan;
  const size = (mm, share) => Number((mm / MM_PER_INCH * resolution.resolved_ppi / share).toPrecision(2));
  return { width: size(picture.width_mm, crop.width), height: size(picture.height_mm, crop.height) };
}
