// Whether what was measured in a step is right. Pure and without texts: the tick of such a step is
// nothing but this, so that no tick can stand beside a length that is off.

import { readDiagonals, readLength as judge, readSheet } from "../lib/paper/measured-length.js";
import { readLength, workUnit } from "../lib/texts/units.js";

/** The unit of the fields of a step. @returns {"mm"|"in"} */
export function unitOf(pack, { scope }, unit) {
  // Rules of people with North American sheets have inches.
  if (scope === "sheet") return pack.spec.sheet.format.startsWith("na_") ? "in" : "mm";
  return workUnit(unit);
}

/** The length of the plan that a step measures. */
export function checkOf(pack, { scope }, name) {
  return pack.plan.check_lengths.find((one) => one.scope === scope && one.name === name);
}

/**
 * What one measured length says; null for none.
 * @returns {object|null} as lib/paper/measured-length.js
 */
export function readingOf(pack, measure, name, measuredMm) {
  if (measuredMm === null) return null;
  const { length_mm: nominalMm, tolerance_mm: toleranceMm } = checkOf(pack, measure, name);
  if (measure.scope === "joined") return judge({ nominalMm, measuredMm, toleranceMm });
  return readSheet({ nominalMm, measuredMm, toleranceMm, current: pack.spec.print[`${name}_correction`] });
}

/** What the two diagonals say together; null unless both are plausible. */
export function leanOf(pack, lengthsMm) {
  const { width_mm: widthMm } = pack.plan.picture;
  const check = pack.plan.check_lengths.find((one) => one.name === "diagonal");
  const [fallingMm, risingMm] = ["diagonal", "other diagonal"].map((name) => lengthsMm[name] ?? null);
  const plausible = ([name, mm]) => mm !== null
    && ["fine", "short", "long"].includes(readingOf(pack, { scope: "joined" }, name, mm).verdict);
  if (!Object.entries({ diagonal: fallingMm, "other diagonal": risingMm }).every(plausible)) return null;
  return readDiagonals({ fallingMm, risingMm, widthMm, toleranceMm: check.tolerance_mm });
}

/**
 * @param {object} pack
 * @param {{scope, names}} measure of the step
 * @param {Object<string, string>} texts as typed, by name
 * @param {"cm"|"mm"|"in"} unit of the person
 * @returns {"none"|"fine"|"wrong"} fine: every length is; wrong: one is off, or no length
 */
export function judgeStep(pack, measure, texts, unit) {
  const typed = measure.names.filter((name) => (texts[savedName(measure, name)] ?? "").trim());
  const lengthsMm = Object.fromEntries(typed.map((name) => [
    name, readLength(texts[savedName(measure, name)], unitOf(pack, measure, unit)),
  ]));
  const right = ([name, mm]) => mm !== null && readingOf(pack, measure, name, mm).verdict === "fine";
  if (!Object.entries(lengthsMm).every(right)) return "wrong";
  if (typed.length < measure.names.length) return "none";
  const lean = measure.names.includes("diagonal") ? leanOf(pack, lengthsMm) : null;
  return lean?.verdict === "leans" ? "wrong" : "fine";
}

/** The name under which a length is stored. */
export const savedName = ({ scope }, name) => (scope === "sheet" ? `sheet ${name}` : name);
