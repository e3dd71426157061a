// What the finest line of a plan means to someone with a pen, the same thresholds as in
// worker/layout/advice.py, so that the page and the printed guide say the same.

/** One minute of arc at 30 cm, what a healthy eye resolves; twice that is a line and its gap. */
const FINEST_SEEN_MM = 2 * 300 * Math.tan(Math.PI / 180 / 60);
/** The pen that the detail map is made for (ISO 9175-1 has it). */
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
