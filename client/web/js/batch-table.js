// Who of the roster is to have a pack, and on what, where it differs from the others: a line
// for each, whose support may be left open.

import { fill, freshId, h } from "./dom.js";
import { select } from "./fields.js";
import { example } from "./class-settings.js";
import { readSize } from "./units.js";

/**
 * @param {object} app
 * @param {function} changed called when a line is another
 * @returns {{element, load: function(Array, Array), lines: function(): (Array|null)}}
 *   `lines()` gives {student, size, format} of those who are in, or null where a size is none
 */
export function batchTable(app, changed) {
  const { t } = app;
  const { unit } = app.state.paper;
  const list = h("ul", { class: "batch-lines" });
  let lines = [];

  function load(students, formats) {
    lines = students.filter((one) => !one.withdrawn).map((one) => lineOf(one, formats));
    fill(list, lines.map(({ element }) => element));
  }

  function lineOf(student, formats) {
    const id = freshId("for");
    const box = h("input", { type: "checkbox", id, checked: true, on: { change: changed } });
    const size = h("input", {
      type: "text", autocomplete: "off", maxlength: 40, placeholder: t("batch.as-all"),
      "aria-label": t("batch.size-of", { name: student.name, example: example(unit) }), on: { input: changed },
    });
    const format = select([{ options: [["", t("batch.as-all")], ...formats.map((one) => [one.name, one.title])] }], "", changed);
    format.setAttribute("aria-label", t("batch.format-of", { name: student.name }));
    return {
      student, box, size, format,
      element: h("li", {}, h("span", { class: "tick" }, box, h("label", { for: id, dir: "auto", text: student.name })), size, format),
    };
  }

  function readLine({ student, size, format }) {
    const read = readSize(size.value, unit);
    const fine = size.value.trim() === "" || read !== null;
    size.setAttribute("aria-invalid", String(!fine));
    return fine ? { student, size: read, format: format.value } : null;
  }

  return {
    element: list,
    load,
    lines() {
      const read = lines.filter(({ box }) => box.checked).map(readLine);
      return read.includes(null) ? null : read;
    },
  };
}
