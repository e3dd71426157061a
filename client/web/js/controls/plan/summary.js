// A plan in words: sharpness, ink, line hidden by tape, and every warning with what to do about
// it. The service has these texts in English; here they are in the page's language, made from the
// plan's figures.

import { crossedAreas } from "../../lib/geometry/protected-areas.js";
import { resolvedSizeOf, sharpnessOf } from "../../lib/paper/sharpness.js";
import { MM_PER_INCH } from "../../lib/texts/units.js";

/** Limits of the shares of ink that are called little, fair and much (common practice). */
const INK = [[0.25, "little"], [0.45, "fair"], [0.6, "much"], [1, "most"]];

/** A line across a seam is hidden for the width of the tape (mm). */
const TAPE_MM = 20;

/** The length of seam (mm) with one line across it, set by eye, with the tape drawn over plans of 20
 * photographs as lines and as tones: DEVELOPERS.md says how they fall. */
const HIDDEN = [[1000, "nothing"], [40, "little"], [15, "some"], [0, "much"]];

/** How much of what is to be traced lies along the seams; empty without seams, or if the plan has no
 * count. @returns {""|"nothing"|"little"|"some"|"much"} */
export function hiddenGrade({ seams, seam_line_mm: line }) {
  if (!line || seams.length === 0) return "";
  const length = seams.reduce((sum, { from_mm: [x, y], to_mm: [u, v] }) => sum + Math.hypot(u - x, v - y), 0);
  return HIDDEN.find(([least]) => TAPE_MM * length >= least * line.chosen)[1];
}

/** The sharpness of the print. @returns {{name: string, short: string, says: string}} */
export function sharpness(t, plan) {
  const { grade, finestMm } = sharpnessOf(plan);
  return { name: t(`sheets.sharp.${grade}`), short: t(`sheets.sharp.short-${grade}`), says: t("sheets.sharp.says", { mm: t.number(finestMm, 2) }) };
}

/** The ink that it takes. @returns {{name: string, says: string}} */
export function ink(t, plan) {
  const share = plan.ink.mean_coverage;
  const [, name] = INK.find(([most]) => share <= most) ?? INK.at(-1);
  return { name: t(`sheets.ink.${name}`), says: t("sheets.ink.says", { percent: Math.round(share * 100) }) };
}

/** A length of line in the chosen unit, without decimals: `408 cm`, `161 in`. */
export function lineLength(t, mm, unit) {
  return unit === "in"
    ? `${t.number(mm / MM_PER_INCH)}\u00a0in`
    : `${t.number(mm / 10)}\u00a0cm`;
}

/** The line to trace that tape covers, and under an even split; empty as `hiddenGrade` is. */
export function hiddenLine(t, plan, unit) {
  if (!hiddenGrade(plan)) return "";
  const { chosen, even } = plan.seam_line_mm;
  const values = { chosen: lineLength(t, chosen, unit), even: lineLength(t, even, unit) };
  const spares = even > 0 && chosen < even * 0.98;
  return t(spares ? "sheets.hidden-spared" : "sheets.hidden", values);
}

/**
 * The warnings of a plan.
 * @returns {Array<{code: string, says: string, serious: boolean}>}
 */
export function warnings(t, plan) {
  const crossed = crossedAreas(plan).map((index) => index + 1);
  const values = {
    areas: crossed.join(", "),
    count: crossed.length,
    mm: t.number(plan.resolution.finest_line_mm, 1),
    shortest: Math.round(Math.min(...plan.pieces.map(shortestSide))),
    percent: Math.round(plan.ink.mean_coverage * 100),
    sheets: plan.sheet_count,
    stacks: plan.trim_stacks.length,
    ...resolvedSizeOf(plan),
  };
  const codes = [...new Set(plan.warnings.map((warning) => warning.code))];
  return codes.map((code) => ({
    code,
    serious: code === "protected-area-crossed",
    says: t.has(`sheets.warning.${code}`)
      ? t(`sheets.warning.${code}`, values)
      : plan.warnings.filter((warning) => warning.code === code).map((warning) => warning.detail).join(" "),
  }));
}

function shortestSide({ picture_rect_mm: { width, height } }) {
  return Math.min(width, height);
}
