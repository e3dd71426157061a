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

/**
 * A region whose content arrives late, such as a plan. The content after it never moves under a
 * finger: it is shown when the region is first filled, and keeps its position on the screen when
 * the region changes its height (scroll anchoring).
 * @param {object} props
 * @param {...Node} parts The elements that change.
 * @returns {{element, draw: function(function)}} `draw(change)` runs the change
 */
export function anchoredRegion(props, ...parts) {
  const element = h("div", { ...props, class: `held waiting ${props.class ?? ""}` }, parts);
  const foot = () => element.getBoundingClientRect().bottom;

  function draw(change) {
    const first = element.classList.contains("waiting");
    const before = foot();
    element.style.minHeight = "";
    change();
    element.classList.remove("waiting");
    // With the focus inside, the person looks at the region and not at the content below.
    if (first || foot() === before || element.contains(document.activeElement)) return;
    window.scrollBy({ top: foot() - before, behavior: "instant" });
    // At the top of the page there is nothing to scroll back, so the height is kept.
    const left = before - foot();
    if (left > 0) element.style.minHeight = `${element.offsetHeight + left}px`;
  }

  return { element, draw };
}

/** The link to the next screen, primary unless `props` says otherwise. @param {string} to hash without # */
export function nextLink(text, to, props = {}) {
  return h("a", { class: "button primary", href: `#${to}`, ...props }, text, h("span", { class: "arrow", "aria-hidden": "true" }, "→"));
}

/** The secondary link to the screen before: an arrow with its name, first in the foot of every screen. */
export function backLink(text, to) {
  return h("a", { class: "button quiet back", href: `#${to}`, rel: "prev" }, h("span", { class: "arrow", "aria-hidden": "true" }, "←"), text);
}
