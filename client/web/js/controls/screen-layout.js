// The plate that every screen is printed on: number, heading, easel (the picture), controls,
// and one primary button within reach of a thumb. One place, so that no screen jumps about.

import { fill, h } from "../lib/dom.js";

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
export function screenLayout(root, { title, lead, pictureArea, controls, actions = [] }) {
  const heading = h("div", { class: "plate-head" },
    h("h1", { tabindex: "-1", text: title }),
    lead && h("p", { class: "lead", text: lead }));
  const screen = h("div", { class: pictureArea ? "plate plate-two" : "plate" },
    heading,
    pictureArea && h("div", { class: "plate-easel" }, pictureArea),
    h("div", { class: "plate-controls" }, controls),
    h("div", { class: "plate-foot" }, actions));
  fill(root, screen);
  return screen;
}

/**
 * A place for what comes by itself, such as the service's findings. It pushes nothing away from
 * under a finger: what stands after it is shown once it is first filled, and keeps its place on
 * the screen whenever it is filled anew.
 * @param {object} props
 * @param {...Node} parts What is filled.
 * @returns {{element, draw: function(function)}} `draw(change)` makes the change
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
    // Who presses a button in it looks at it, and not at what stands below.
    if (first || foot() === before || element.contains(document.activeElement)) return;
    window.scrollBy({ top: foot() - before, behavior: "instant" });
    // At the top of the page there is nothing to scroll back: the room that was taken is kept.
    const left = before - foot();
    if (left > 0) element.style.minHeight = `${element.offsetHeight + left}px`;
  }

  return { element, draw };
}

/** The button that goes on, the primary one unless `props` says otherwise. @param {string} to hash without # */
export function nextLink(text, to, props = {}) {
  return h("a", { class: "button primary", href: `#${to}`, ...props }, text, h("span", { class: "arrow", "aria-hidden": "true" }, "→"));
}

/** The quiet link that goes back. */
export function backLink(text, to) {
  return h("a", { class: "button quiet back", href: `#${to}` }, text);
}
