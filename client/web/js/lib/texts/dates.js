// Dates as people in the page's language write them: 31.12.2026 in German. A browser's own date
// field follows the browser's language instead, so days are typed as text. Pure but for the
// browser's list of languages, which says whether English is read as in Boston or in London.

/** The language with the browser's region, where the browser has that language. */
function localeFor(language, wanted = globalThis.navigator?.languages ?? []) {
  return wanted.find((one) => one === language || one.startsWith(`${language}-`)) ?? language;
}

/** A date in words. @param {string|number|Date} moment */
export function dayInWords(language, moment) {
  return new Intl.DateTimeFormat(localeFor(language), { dateStyle: "long" }).format(new Date(moment));
}

/** An hour of the day, with the day where it is another one than today. */
export function hourInWords(language, moment, now = Date.now()) {
  const [at, today] = [new Date(moment), new Date(now)];
  const how = at.toDateString() === today.toDateString() ? { timeStyle: "short" } : { dateStyle: "medium", timeStyle: "short" };
  return new Intl.DateTimeFormat(localeFor(language), how).format(at);
}

function figures(language) {
  return new Intl.DateTimeFormat(localeFor(language), { day: "2-digit", month: "2-digit", year: "numeric" });
}

/** A day in figures, in the order of the language. */
export function writeDay(language, moment) {
  return figures(language).format(new Date(moment));
}

/**
 * The end of a day that somebody typed, in figures in the language's order or as 2026-12-31.
 * @returns {Date|null} null: it is no day
 */
export function readDay(language, text) {
  const parts = text.trim().split(/\D+/).filter(Boolean).map(Number);
  if (parts.length !== 3) return null;
  const order = figures(language).formatToParts(new Date()).map(({ type }) => type).filter((type) => ["day", "month", "year"].includes(type));
  const named = Object.fromEntries((parts[0] > 31 ? ["year", "month", "day"] : order).map((type, place) => [type, parts[place]]));
  const year = named.year < 100 ? 2000 + named.year : named.year;
  const day = new Date(year, named.month - 1, named.day, 23, 59, 59);
  return day.getMonth() === named.month - 1 && day.getDate() === named.day && year < 2900 ? day : null;
}

/** A day, in full. @param {object} t the texts @param {string|number} moment */
export const dayOf = (t, moment) => dayInWords(t.language, moment);

/** A day in short, with the month's name, so that no order of figures is to be guessed. */
export const shortDay = (t, moment) => new Intl.DateTimeFormat(
  localeFor(t.language), { day: "numeric", month: "short", year: "numeric" },
).format(new Date(moment));
