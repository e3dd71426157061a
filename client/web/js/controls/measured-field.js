// One field that takes what was measured, with its verdict beneath: on the sheet that was
// printed first, on the joined enlargement, and on the printer's test page.

import { h } from "../lib/dom.js";
import { field } from "./fields.js";
import { lengthInput } from "./length-field.js";
import { readLength, writeLengthUnit } from "../lib/units.js";

/**
 * @param {{t, unit, label, note, kept, exampleMm}} about `kept` is the text of last time
 * @param {function(string, number|null, function({says: string, wrong: boolean}))} measured
 *   told each time with the text and what it reads as, and what says the verdict, which may
 *   come later; null is no length yet
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
    if (text && mm === null) showVerdict({ says: t("studio.bar.unread", { example: writeLengthUnit(exampleMm, unit, t.language) }), wrong: true });
    measured(text, mm, text && mm === null ? () => {} : showVerdict);
  }

  onInput();
  return h("div", { class: "measured" }, shown.element, verdict);
}
