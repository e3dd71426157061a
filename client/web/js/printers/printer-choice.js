// The choice of the printer in the paper step, with the link to measure one.

import { fill, h } from "../lib/browser/dom.js";
import { field, select } from "../controls/fields.js";
import { printers } from "../api/printers.js";
import { printerPatch } from "../state/state.js";

/** @param {object} app @returns {{element: HTMLElement, load: function(): Promise}} */
export function printerChoice(app) {
  const { t } = app;
  const list = h("div");
  const note = h("p", { class: "small", role: "status" });
  let found = [];
  draw();

  function draw() {
    const { printerId } = app.state.sheets;
    const options = [["", t("printer.none")], ...found.map((one) => [one.id, one.name])];
    fill(list, field(t("printer.choose"), select([{ options }], printerId ?? "", take)).element);
    showCorrection();
  }

  function take(id) {
    app.update(printerPatch(found.find((one) => one.id === id) ?? null));
    showCorrection();
  }

  function showCorrection() {
    const { acrossCorrection: across, downCorrection: down } = app.state.sheets;
    note.textContent = across === 1 && down === 1 ? t("printer.uncorrected")
      : t("printer.corrected", { across: t.number(across, 4), down: t.number(down, 4) });
  }

  return {
    element: h("div", { class: "printer-choice" }, list, note,
      h("div", { class: "button-row" }, h("a", { class: "button", href: "#printer" }, t("printer.measure")))),
    /** Load the printers; without an answer the list stays as it is. */
    async load() {
      try {
        found = await printers();
        draw();
      } catch {
        // The paper step shows the problem.
      }
    },
  };
}
