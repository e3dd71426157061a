// Builds elements without markup strings, so that no typed text and no file name is ever parsed
// as HTML, and a strict content security policy holds.

const SVG = "http://www.w3.org/2000/svg";

/**
 * Make an element.
 * @param {string} tag
 * @param {Object<string, any>} [props] `class`, `on` ({event: listener}), `data`, `text`,
 *   and attributes; true sets an empty attribute, false, null and undefined set none;
 *   `value`, `checked`, `disabled` and the like are set as properties.
 * @param {...(Node|string|number|null|false|Array)} children null and false are skipped.
 * @returns {HTMLElement}
 */
export function h(tag, props = {}, ...children) {
  return populate(document.createElement(tag), props, children);
}

/** Make an SVG element, with the same arguments. @returns {SVGElement} */
export function svg(tag, props = {}, ...children) {
  return populate(document.createElementNS(SVG, tag), props, children);
}

/** Replace the children of an element. @param {Element} parent */
export function fill(parent, ...children) {
  parent.replaceChildren(...nodes(children));
  return parent;
}

function populate(element, props, children) {
  for (const [name, value] of Object.entries(props)) setProp(element, name, value);
  element.append(...nodes(children));
  return element;
}

const AS_PROPERTY = new Set(["value", "checked", "selected", "disabled", "indeterminate", "open"]);

function setProp(element, name, value) {
  if (value === undefined || value === null || value === false) return;
  if (name === "on") {
    for (const [event, listener] of Object.entries(value)) element.addEventListener(event, listener);
  } else if (name === "data") Object.assign(element.dataset, value);
  else if (name === "text") element.textContent = value;
  else if (AS_PROPERTY.has(name)) element[name] = value;
  else element.setAttribute(name, value === true ? "" : String(value));
}

function nodes(children) {
  return children.flat(Infinity)
    .filter((child) => child !== null && child !== undefined && child !== false)
    .map((child) => (child instanceof Node ? child : String(child)));
}

/**
 * Show a dialog over the screen. It is removed when it is closed, and closes when the screen
 * changes: whoever goes back with it open goes back.
 * @param {object} props of the element
 * @param {Array} children
 * @param {{tapBeside?: boolean}} [how] whether a tap beside it closes it too
 * @returns {HTMLDialogElement}
 */
export function showDialog(props, children, { tapBeside = false } = {}) {
  const dialog = h("dialog", { ...props, on: { close: () => dialog.remove() } }, children);
  if (tapBeside) {
    dialog.addEventListener("click", (event) => {
      if (event.target === dialog) dialog.close();
    });
  }
  addEventListener("hashchange", () => dialog.close(), { once: true });
  document.body.append(dialog);
  dialog.showModal();
  return dialog;
}

let count = 0;

/** An id that no other element has, for labels and descriptions. @param {string} stem */
export function freshId(stem) {
  count += 1;
  return `${stem}-${count}`;
}
