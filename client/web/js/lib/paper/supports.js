// Supports: the limits of their sides, and the names of the trade as people type them; case,
// accents and spaces are forgiven.

/** The API's limits of a side. */
export const LEAST_SIDE_MM = 20;
export const MOST_SIDE_MM = 10_000;

/** Words that stand before the name of a format and say nothing more (ISO 216 was DIN 476). */
const BEFORE = /^(?:din|iso|format|formato)(?=[ab]\d)/;
/** Supports whose sides differ by less are equal. */
const SAME_MM = 0.06;

/** A typed name with what is forgiven taken out. */
function bare(text) {
  return text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase().replace(/×/g, "x").replace(/[\s()_.-]+/g, "").replace(BEFORE, "");
}

/** All that a support answers to: its name, its title, and the name in brackets after the size. */
function namesOf({ name, title }) {
  const inBrackets = /\(([^)]+)\)/.exec(title)?.[1];
  return [name, title, inBrackets].filter(Boolean).map(bare);
}

/**
 * The support of a typed name, such as `a3`, `A 3`, `Impérial` or `22x30in`.
 * @param {Array<{name: string, title: string}>} supports as the service lists them
 * @returns {object|null}
 */
export function supportOfName(supports, text) {
  const asked = bare(text);
  // Italian ends the word in e.
  return supports.find((one) => namesOf(one).some((name) => name === asked || `${name}e` === asked)) ?? null;
}

/** Whether a text may still become a name while it is typed. */
export function beginsName(supports, text) {
  const asked = bare(text);
  return asked !== "" && !/^\d/.test(asked) && supports.some((one) => namesOf(one).some((name) => name.startsWith(asked)));
}

/** The widest border that leaves something to draw on. */
export function mostBorderOf({ widthMm, heightMm }) {
  return Math.max((Math.min(widthMm, heightMm) - LEAST_SIDE_MM) / 2, 0);
}

/** The support of these sides, either way round. @returns {object|null} */
export function supportOfSize(supports, widthMm, heightMm) {
  const alike = (one, width, height) => Math.abs(one.width_mm - width) < SAME_MM && Math.abs(one.height_mm - height) < SAME_MM;
  return supports.find((one) => alike(one, widthMm, heightMm) || alike(one, heightMm, widthMm)) ?? null;
}
