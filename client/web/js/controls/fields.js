// Form controls of all screens: a labelled field, radio buttons, a select, a number with buttons
// for more and less (so that nothing needs a drag or a keyboard), a checkbox.

import { freshId, h } from "../lib/browser/dom.js";

/** A fieldset with a legend. */
export function group(title, ...children) {
  return h("fieldset", { class: "group" }, h("legend", { text: title }), children);
}

/**
 * A labelled control with a note under it that can change.
 * @param {string} label
 * @param {HTMLElement} control
 * @param {{note?: string, unit?: string, class?: string}} [more]
 * @returns {{element, control, note: function(string, boolean=)}} `note(text, wrong)`
 */
export function field(label, control, { note = "", unit = "", class: kind = "" } = {}) {
  const id = control.id || (control.id = freshId("field"));
  const noteElement = h("p", { class: "note", id: `${id}-note`, text: note });
  control.setAttribute("aria-describedby", noteElement.id);
  const element = h("div", { class: `field ${kind}`.trim() },
    h("label", { for: id, text: label }),
    h("div", { class: "field-row" }, control, unit && h("span", { class: "unit", text: unit })),
    noteElement);
  return {
    element,
    control,
    note(text, wrong = false) {
      noteElement.textContent = text;
      noteElement.classList.toggle("wrong", wrong);
      control.setAttribute("aria-invalid", String(wrong));
    },
  };
}

/**
 * A choice of few values, as radio buttons that look like one strip.
 * @param {string} name
 * @param {string} legend
 * @param {Array<[string, string|Node]>} options value and label
 * @param {string} chosen
 * @param {function(string)} change
 * @param {{hideLegend?: boolean}} [more]
 */
export function choice(name, legend, options, chosen, change, { hideLegend = false } = {}) {
  const radios = options.map(([value, label]) => {
    const id = freshId(name);
    return h("div", { class: "choice-one" },
      h("input", { type: "radio", name, id, value, checked: value === chosen, on: { change: () => change(value) } }),
      h("label", { for: id }, label));
  });
  return h("fieldset", { class: "choice" },
    h("legend", { class: hideLegend ? "unseen" : "", text: legend }),
    h("div", { class: "choice-strip" }, radios));
}

/** A list to choose from. @param {Array<{title?: string, options: Array<[string, string]>}>} groups */
export function select(groups, chosen, change) {
  const option = ([value, label]) => h("option", { value, text: label, selected: value === chosen });
  const parts = groups.map((part) => (part.title
    ? h("optgroup", { label: part.title }, part.options.map(option))
    : part.options.map(option)));
  return h("select", { on: { change: (event) => change(event.target.value) } }, parts);
}

/**
 * A number with − and + beside it; arrow keys do the same.
 * @param {object} how
 * @param {string} how.label
 * @param {string} how.unit
 * @param {string} how.less Name of the − button.
 * @param {string} how.more Name of the + button.
 * @param {function(number): string} how.write
 * @param {function(string): (number|null)} how.read
 * @param {number} how.step
 * @param {function(number)} how.change Called with the requested number.
 * @returns {{element, show: function(number)}}
 */
export function stepper({ label, unit, less, more, write, read, step, change }) {
  const id = freshId("step");
  let value = 0;
  const shift = (by) => change(value + by);
  const input = h("input", {
    id, type: "text", inputmode: "decimal", autocomplete: "off",
    on: {
      change: () => {
        const asked = read(input.value);
        if (asked === null) show(value);
        else change(asked);
        input.value = write(value);
      },
      keydown: (event) => {
        const by = { ArrowUp: step, ArrowDown: -step, PageUp: step * 10, PageDown: -step * 10 }[event.key];
        if (by === undefined) return;
        event.preventDefault();
        shift(by);
        input.value = write(value);
      },
    },
  });
  const button = (sign, name, by) => h("button", {
    type: "button", class: "sign", "aria-label": name, on: { click: () => { shift(by); input.value = write(value); } },
  }, sign);

  function show(next) {
    value = next;
    // A field with the focus is not overwritten.
    if (document.activeElement !== input) input.value = write(value);
  }

  const element = h("div", { class: "stepper" },
    h("label", { for: id, text: label }),
    h("div", { class: "stepper-row" },
      button("−", less, -step),
      h("span", { class: "stepper-value" }, input, h("span", { class: "unit", text: unit })),
      button("+", more, step)));
  return { element, show };
}

/** A checkbox with its label. */
export function toggle(label, on, change) {
  const id = freshId("toggle");
  return h("div", { class: "toggle" },
    h("input", { type: "checkbox", id, checked: on, on: { change: (event) => change(event.target.checked) } }),
    h("label", { for: id, text: label }));
}
