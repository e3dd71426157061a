// The layout of every screen: heading, picture area, controls, and one primary button within
// reach of a thumb.

import { fill, h } from "../../lib/browser/dom.js";

/**
 * Lay a screen out.
 * @param {Element} root
 * @param {object} parts
 * @param {string} parts.title
 * @param {string} [parts.lead] One sentence under the title.
 * @param {Node} [parts.pictureArea] The picture; beside the controls on wide screens.
 * @param {string} [parts.kind] A layout of its own, as css has it.
 * @param {Array} parts.controls
 * @param {Array} [parts.actions] Buttons and links at the foot, the primary one last.
 * @returns {HTMLElement} the screen
 */
export function screenLayout(root, { title, lead, pictureArea, kind = pictureArea ? "two" : "", controls, actions = [] }) {
  const heading = h("div", { class: "plate-head" },
    h("h1", { tabindex: "-1", text: title }),
    lead && h("p", { class: "lead", text: lead }));
  const screen = h("div", { class: kind ? `plate plate-${kind}` : "plate" },
    heading,
    pictureArea && h("div", { class: "plate-easel" }, pictureArea),
    h("div", { class: "plate-controls" }, controls),
    h("div", { class: "plate-foot" }, actions));
  fill(root, screen);
  return screen;
}

/** The link to the next screen, primary unless `props` says otherwise. @param {string} to hash without # */
export function nextLink(text, to, props = {}) {
  return h("a", { class: "button primary", href: `#${to}`, ...props }, text, h("span", { class: "arrow", "aria-hidden": "true" }, "→"));
}

/** The secondary link to the screen before: an arrow with its name, first in the foot of every screen. */
export function backLink(text, to) {
  return h("a", { class: "button quiet back", href: `#${to}`, rel: "prev" }, h("span", { class: "arrow", "aria-hidden": "true" }, "←"), text);
}
