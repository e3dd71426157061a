// How to print at actual size from this browser.
//
// A pack requests actual size, but some browsers and most phones ignore it. The steps differ by
// system and browser, so the page shows only those that apply. Pure: from a description of the
// browser to keys of the texts.

/**
 * The system and the browser, as far as printing differs.
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
  // A tablet that requests desktop pages reports a Mac; no Mac has a touch screen.
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
 * @param {{system: string, browser: string}} place - as `detectBrowser` returns it
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
