// The plate that every screen is printed on: number, heading, easel (the picture), controls,
// and one primary button within reach of a thumb. One place, so that no screen jumps about.

import { fill, h } from "./dom.js";

/**
 * Lay a screen out.
 * @param {Element} root
 * @param {object} parts
 * @param {string} parts.title
 * @param {string} [parts.lead] One sentence under the title.
 * @param {Node} [parts.easel] What is drawn; beside the controls on wide screens.
 * @param {Array} parts.controls
 * @param {Array} [parts.actions] Buttons and links of the foot, the primary one last.
 * @returns {HTMLElement} the screen
 */
export function plate(root, { title, lead, easel, controls, actions = [] }) {
  const heading = h("div", { class: "plate-head" },
    h("h1", { tabindex: "-1", text: title }),
    lead && h("p", { class: "lead", text: lead }));
  const screen = h("div", { class: easel ? "plate plate-two" : "plate" },
    heading,
    easel && h("div", { class: "plate-easel" }, easel),
    h("div", { class: "plate-controls" }, controls),
    h("div", { class: "plate-foot" }, actions));
  fill(root, screen);
  return screen;
}

/** The button that goes on, the primary one unless `props` says otherwise. @param {string} to hash without # */
export function nextLink(text, to, props = {}) {
  return h("a", { class: "button primary", href: `#${to}`, ...props }, text, h("span", { class: "arrow", "aria-hidden": "true" }, "→"));
}

/** The quiet link that goes back. */
export function backLink(text, to) {
  return h("a", { class: "button quiet back", href: `#${to}` }, text);
}
