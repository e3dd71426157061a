// What a measured length means: fine, off and which way, or page fitting left on.
//
// Pure and without texts, so that each case can be tested and translated. What a length may be off
// is the plan's to say (worker/layout/measuring/allowances.py).

/** A rule is read to half a millimetre (common practice). */
const RULE_READS_MM = 0.5;
/** A printer's own error is less than about two percent; the service accepts no more. */
const LEAST_CORRECTION = 0.98;
const MOST_CORRECTION = 1.02;
/** 98 of 100 mm gives 1.0204: the excess is far less than the uncertainty of a reading. */
const OVER = 5e-4;
/** Scale to which “fit to page” shrinks a page (common practice). */
const FITTED = [0.94, 0.97];
/** Ratio of a figure to its true value when it was read in another unit. */
const OTHER_UNITS = { in: 1 / 25.4, cm: 0.1, mm: 25.4 };
const SAME = 0.03;

/**
 * What a length on one sheet says about the printer.
 *
 * @param {{nominalMm: number, measuredMm: number, current?: number, toleranceMm: number}} read -
 *   `current` is the correction that the sheet was printed with.
 * @returns {{verdict: "fine"|"correct"|"fitted"|"unit"|"again", way: "short"|"long"|"true",
 *   offMm: number, share: number, factor?: number, unit?: string}}
 *   `factor` is the new correction, nominal divided by measured, times the current one,
 *   to four decimals and never beyond what the service takes.
 */
export function readSheet({ nominalMm, measuredMm, current = 1, toleranceMm }) {
  const share = measuredMm / nominalMm;
  const offMm = measuredMm - nominalMm;
  const found = { way: wayOf(offMm), offMm, share };
  if (Math.abs(offMm) <= toleranceMm + 1e-9) return { ...found, verdict: "fine" };
  const factor = current / share;
  if (factor >= LEAST_CORRECTION - OVER && factor <= MOST_CORRECTION + OVER) {
    const taken = Math.min(MOST_CORRECTION, Math.max(LEAST_CORRECTION, factor));
    return { ...found, verdict: "correct", factor: Math.round(taken * 1e4) / 1e4 };
  }
  const unsure = RULE_READS_MM / nominalMm;
  if (share >= FITTED[0] - unsure && share <= FITTED[1] + unsure) {
    return { ...found, verdict: "fitted" };
  }
  const unit = otherUnit(share);
  return unit ? { ...found, verdict: "unit", unit } : { ...found, verdict: "again" };
}

function wayOf(offMm) {
  if (offMm === 0) return "true";
  return offMm < 0 ? "short" : "long";
}

/** The other unit in which a figure would be right, if there is one. */
function otherUnit(share) {
  const found = Object.entries(OTHER_UNITS).find(([, part]) => Math.abs(share / part - 1) < SAME);
  return found?.[0];
}

/**
 * What a length of the joined enlargement says.
 *
 * @param {{nominalMm: number, measuredMm: number, toleranceMm: number}} read
 * @returns {{verdict: "fine"|"short"|"long"|"fitted"|"unit"|"again", offMm: number, share: number,
 *   unit?: string}}
 */
export function readLength({ nominalMm, measuredMm, toleranceMm }) {
  const offMm = measuredMm - nominalMm;
  const share = measuredMm / nominalMm;
  if (Math.abs(offMm) <= toleranceMm + 1e-9) {
    return { verdict: "fine", offMm, share };
  }
  if (Math.abs(share - 1) <= 1 - LEAST_CORRECTION) {
    return { verdict: offMm < 0 ? "short" : "long", offMm, share };
  }
  const unsure = RULE_READS_MM / nominalMm;
  if (share >= FITTED[0] - unsure && share <= FITTED[1] + unsure) {
    return { verdict: "fitted", offMm, share };
  }
  const unit = otherUnit(share);
  return unit ? { verdict: "unit", offMm, share, unit } : { verdict: "again", offMm, share };
}

/**
 * Whether two diagonals are alike, and if not, which way the picture leans.
 *
 * With width w and the top shifted sideways by s, the two diagonals squared are
 * (w + s)² + h² and (w − s)² + h²; so s is the difference of their squares over 4 w.
 *
 * @param {{fallingMm: number, risingMm: number, widthMm: number, toleranceMm: number}} read -
 *   `fallingMm` runs from top left to bottom right, `risingMm` from bottom left to top right.
 * @returns {{verdict: "alike"|"leans", toward?: "left"|"right", shiftMm: number}}
 *   the direction and length of the shift of the top edge.
 */
export function readDiagonals({ fallingMm, risingMm, widthMm, toleranceMm }) {
  const shiftMm = (risingMm ** 2 - fallingMm ** 2) / (4 * widthMm);
  // Either may be misread by half of what a rule is read to.
  if (Math.abs(risingMm - fallingMm) <= Math.max(toleranceMm, RULE_READS_MM) + 1e-9) return { verdict: "alike", shiftMm };
  return { verdict: "leans", toward: shiftMm > 0 ? "right" : "left", shiftMm: Math.abs(shiftMm) };
}
