// The choice of the printer of a batch: its corrections, margins and sheet format.

import { field, select } from "../../controls/fields.js";

/**
 * The only printer that is shared with the class is selected at once.
 * @param {object} app
 * @param {{known: Array, id: string, changed: function(object|null)}} how `id` of the class
 * @returns {{element, format: string|null, read: function(): {print: object, sheet: object}}}
 */
export function printerFor(app, { known, id, changed }) {
  const { t } = app;
  const shared = known.filter((one) => one.class_id === id);
  let chosen = shared.length === 1 ? shared[0] : null;
  const options = [["", t("printer.none")], ...known.map((one) => [one.id, one.name])];
  const list = select([{ options }], chosen?.id ?? "", (to) => {
    chosen = known.find((one) => one.id === to) ?? null;
    showCorrection();
    changed(chosen);
  });
  const shown = field(t("printer.choose"), list);
  showCorrection();

  function read() {
    if (!chosen) return { print: {}, sheet: {} };
    const { across_correction: across, down_correction: down, name, margin_mm: margin } = chosen;
    return { print: { across_correction: across, down_correction: down, printer: name }, sheet: margin ? { margin_mm: margin } : {} };
  }

  function showCorrection() {
    shown.note(chosen ? t("printer.corrected", {
      across: t.number(chosen.across_correction, 4), down: t.number(chosen.down_correction, 4),
    }) : t("printer.uncorrected"));
  }

  return { element: known.length > 0 && shown.element, format: chosen?.format ?? null, read };
}
