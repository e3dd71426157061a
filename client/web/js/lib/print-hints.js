// How to print at actual size from this very browser.
//
// A pack asks for actual size, but some browsers and most phones do not listen. What has to be
// done differs by system and browser, so the page says only what is true here. Pure: it reads a
// description of the browser and gives keys of the catalogue of words, never a picture of
// anyone's print window.

/**
 * Which system and browser this is, as far as printing goes.
 * @param {{userAgent: string, maxTouchPoints?: number}} navigator
 * @returns {{system: "ios"|"android"|"windows"|"mac"|"other",
 *   browser: "firefox"|"chromium"|"safari"|"other"}}
 */
export function detectBrowser({ userAgent, maxTouchPoints = 0 }) {
  return { system: systemOf(userAgent, maxTouchPoints), browser: browserOf(userAgent) };
}

function systemOf(agent, touchPoints) {
  if (/iPhone|iPad|iPod/.test(agent)) return "ios";
  if (/Android/.test(agent)) return "android";
  if (/Windows/.test(agent)) return "windows";
  // A tablet that asks for desktop pages calls itself a Mac; no Mac has a touch screen.
  if (/Macintosh/.test(agent)) return touchPoints > 1 ? "ios" : "mac";
  return "other";
}

function browserOf(agent) {
  if (/Firefox|FxiOS/.test(agent)) return "firefox";
  if (/Chrome|Chromium|CriOS|Edg/.test(agent)) return "chromium";
  return /Safari/.test(agent) ? "safari" : "other";
}

/**
 * The steps for this browser, as keys of the catalogue, in order.
 * @param {{system: string, browser: string}} place - as `whereAmI` gives it
 * @returns {string[]}
 */
export function printHints({ system, browser }) {
  const last = ["hints.one-first", "hints.sides"];
  if (system === "ios") return ["hints.phone", "hints.ios", ...last];
  if (system === "android") return ["hints.phone", "hints.android", ...last];
  if (browser === "firefox") return ["hints.firefox", ...last];
  if (browser === "safari") return ["hints.mac-viewer", ...last];
  if (browser === "chromium") return ["hints.chromium", ...last];
  return ["hints.any", ...last];
}
