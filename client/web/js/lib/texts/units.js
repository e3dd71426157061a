// Parses and formats lengths: the only module that knows centimetres, inches, fractions and the
// decimal comma. Everywhere else a length is in millimetres.

/** The international inch (NIST SP 811, B.6). */
export const MM_PER_INCH = 25.4;
export const UNITS = ["cm", "mm", "in"];
/** The unit of margins, cuts, tape and readings: the one on a steel rule. */
export const workUnit = (unit) => (unit === "in" ? "in" : "mm");

const UNIT_MM = {
  mm: 1, cm: 10, m: 1000, in: MM_PER_INCH, inch: MM_PER_INCH, inches: MM_PER_INCH,
  '"': MM_PER_INCH, "″": MM_PER_INCH, "”": MM_PER_INCH, "''": MM_PER_INCH,
};
const FRACTIONS = {
  "½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
};
const NUMBER = String.raw`\d+[ -]+\d+/\d+|\d+/\d+|\d+[.,]?\d*|[.,]\d+`;
const UNIT = String.raw`mm|cm|m|inches|inch|in|"|″|”|''`;
const ONE = new RegExp(`^(${NUMBER})\\s*(${UNIT})?$`);
const TWO = new RegExp(`^(${NUMBER})\\s*(${UNIT})?\\s*(?:x|×|\\*|by|per)\\s*(${NUMBER})\\s*(${UNIT})?$`);

/**
 * Read one length; a bare number is in `unit`.
 * @returns {number|null} millimetres; null if the text is no length
 */
export function readLength(text, unit) {
  const found = ONE.exec(tidy(text));
  return found ? millimetres(found[1], found[2] ?? unit) : null;
}

/**
 * Read a width and a height: `59,4 x 42`, `22 1/2 × 30 in`.
 * @returns {{widthMm: number, heightMm: number}|null}
 */
export function readSize(text, unit) {
  const found = TWO.exec(tidy(text));
  if (!found) return null;
  const widthMm = millimetres(found[1], found[2] ?? found[4] ?? unit);
  const heightMm = millimetres(found[3], found[4] ?? found[2] ?? unit);
  return widthMm === null || heightMm === null ? null : { widthMm, heightMm };
}

/** Whether a text has a fraction and names no unit: a tape in inches may be meant. */
export function lacksUnit(text) {
  const found = ONE.exec(tidy(text)) ?? TWO.exec(tidy(text));
  if (!found) return false;
  const [, number, unit, second = "", secondUnit] = found;
  return `${number}${second}`.includes("/") && !unit && !secondUnit;
}

/** Read a plain number with point or comma. @returns {number|null} */
export function readNumber(text) {
  const tidied = text.trim().replace("−", "-").replace(",", ".").replace(/\s*[%°]$/, "");
  return /^[-+]?(\d+\.?\d*|\.\d+)$/.test(tidied) ? Number(tidied) : null;
}

function tidy(text) {
  return text.replace(/[½¼¾⅓⅔⅛⅜⅝⅞]/g, (sign) => ` ${FRACTIONS[sign]}`).trim().toLowerCase().replace(/\s+/g, " ");
}

function millimetres(number, unit) {
  const value = valueOf(number);
  return value === null ? null : value * UNIT_MM[unit];
}

function valueOf(number) {
  const parts = number.split(/[ -]+/);
  const [over, under] = parts.pop().replace(",", ".").split("/");
  if (under !== undefined && Number(under) === 0) return null;
  return Number(parts[0] ?? 0) + (under === undefined ? Number(over) : Number(over) / Number(under));
}

/**
 * Write a length in a unit: `59,4`, `594`, `23 3/8`.
 * @param {number} mm
 * @param {"cm"|"mm"|"in"|"m"} unit
 * @param {string} language for the decimal sign
 */
export function writeLength(mm, unit, language) {
  if (unit === "in") return writeInches(mm / MM_PER_INCH, language);
  const digits = unit === "mm" ? 1 : 2;
  return plain(mm / UNIT_MM[unit], digits, language);
}

/** A length with its unit. */
export function writeLengthUnit(mm, unit, language) {
  return `${writeLength(mm, unit, language)}\u00a0${unit}`;
}

/** A width and a height with their unit. */
export function writeSize(widthMm, heightMm, unit, language) {
  return `${writeLength(widthMm, unit, language)}\u00a0×\u00a0${writeLengthUnit(heightMm, unit, language)}`;
}

/** In sixteenths if the length is within a hundredth of an inch of one, else in decimals. */
function writeInches(inches, language) {
  const sixteenths = Math.round(inches * 16);
  if (Math.abs(sixteenths / 16 - inches) > 0.005) return plain(inches, 2, language);
  const whole = Math.floor(sixteenths / 16);
  let over = sixteenths % 16;
  if (over === 0) return String(whole);
  let under = 16;
  while (over % 2 === 0) {
    over /= 2;
    under /= 2;
  }
  return whole ? `${whole} ${over}/${under}` : `${over}/${under}`;
}

function plain(value, digits, language) {
  return new Intl.NumberFormat(language, { maximumFractionDigits: digits, useGrouping: false }).format(value);
}
