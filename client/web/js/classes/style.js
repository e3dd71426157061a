// The fields of style and grid for a whole class: among the class's defaults, and for each batch.

import { field, select } from "../controls/fields.js";
import { lengthInput } from "../controls/length-field.js";
import { STYLES } from "../state/state.js";
import { readLength, writeLength, writeLengthUnit } from "../lib/texts/units.js";

/** The service's limits, and a usual side of the squares. */
const LEAST_MM = 5;
const MOST_MM = 2000;
const EXAMPLE_MM = { cm: 50, mm: 50, in: 50.8 };

/**
 * @param {object} app
 * @param {object} how
 * @param {object} how.defaults partial spec with the current values
 * @param {boolean} how.open whether the style may be left to each student
 * @param {function()} [how.changed]
 * @returns {{elements: Element[], read: function(): ({tone: object, grid: object|null}|null)}}
 *   `read()` gives parts of a spec, or null if a side is unreadable
 */
export function styleFields(app, { defaults, open, changed = () => {} }) {
  const { t } = app;
  const { unit } = app.state.paper;
  const { tone = {}, grid = null } = defaults;
  const styles = [...(open ? [["", t("class.as-they-like")]] : []), ...STYLES.map((one) => [one, t(`style.${one}`)])];
  const style = select([{ options: styles }], tone.style ?? (open ? "" : "grey"), changed);
  const side = lengthInput(unit, grid ? writeLength(grid.square_mm, unit, t.language) : "", changed);
  const note = t(open ? "class.grid-note" : "batch.grid-note", { example: writeLengthUnit(EXAMPLE_MM[unit], unit, t.language) });
  const sideField = field(t("squares.title"), side, { note, unit });

  function read() {
    const mm = side.value.trim() ? readLength(side.value, unit) : null;
    const fine = side.value.trim() === "" || (mm !== null && mm >= LEAST_MM && mm <= MOST_MM);
    const limits = [LEAST_MM, MOST_MM].map((limit) => writeLengthUnit(limit, unit, t.language));
    sideField.note(fine ? note : t("class.grid-unread", { least: limits[0], most: limits[1] }), !fine);
    const { style: _, ...others } = tone;
    return fine ? {
      tone: style.value ? { ...tone, style: style.value } : others,
      grid: mm === null ? null : { ...grid, square_mm: mm },
    } : null;
  }

  return { elements: [field(t("style.title"), style).element, sideField.element], read };
}
