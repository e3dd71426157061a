// A field for a measured length with its verdict under it: for the first printed sheet, for the
// joined enlargement, and for the printer's test page.

import { h } from "../lib/browser/dom.js";
import { field } from "./fields.js";
import { lengthInput } from "./length-field.js";
import { readLength, writeLengthUnit } from "../lib/texts/units.js";

/**
 * @param {{t, unit, label, note, saved, exampleMm}} about `saved` is the text of last time
 * @param {function(string, number|null, function({says: string, wrong: boolean}))} measured
 *   called after each input with the text, its length in mm (null: no length), and a function
 *   that shows the verdict, which may be called later
 * @returns {HTMLElement}
 */
export function measuredField({ t, unit, label, note, saved, exampleMm }, measured) {
  const verdict = h("p", { class: "verdict", role: "status" });
  const input = lengthInput(unit, saved, onInput);
  const shown = field(label, input, { note, unit });

  function showVerdict({ says, wrong }) {
    verdict.textContent = says;
    verdict.classList.toggle("wrong", wrong);
    verdict.classList.toggle("fine", Boolean(says) && !wrong);
  }

  function onInput() {
    const text = input.value.trim();
    const mm = text ? readLength(text, unit) : null;
    if (text && mm === null) showVerdict({ says: t("printer.bar.unread", { example: writeLengthUnit(exampleMm, unit, t.language) }), wrong: true });
    measured(text, mm, text && mm === null ? () => {} : showVerdict);
  }

  onInput();
  return h("div", { class: "measured" }, shown.element, verdict);
}
