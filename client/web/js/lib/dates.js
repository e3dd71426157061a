// Dates as the page's language writes them. Where the device has a region of that language, such
// as en-GB, its order is taken: the 3rd of May is 3 May there, and May 3 in the United States.

/** The tag to write dates in. @param {string} language @param {readonly string[]} [device] */
export function dateLocale(language, device = navigator.languages) {
  return device?.find((tag) => tag.split("-")[0] === language.split("-")[0]) ?? language;
}

/** A day, in full. @param {object} t @param {string|number} moment */
export const dayOf = (t, moment) => written(t, moment, { dateStyle: "long" });

/** A day in short, with the month's name, so that no order of figures is to be guessed. */
export const shortDay = (t, moment) => written(t, moment, { day: "numeric", month: "short", year: "numeric" });

function written({ language }, moment, style) {
  return new Intl.DateTimeFormat(dateLocale(language), style).format(new Date(moment));
}
