// The stored printers of a person and of the class: one is taken up for the packs that follow, and
// those of one's own can be deleted.

import { mayDelete } from "../api/access.js";
import { fill, h } from "../lib/browser/dom.js";
import { choice } from "../controls/fields.js";
import * as printerApi from "../api/printers.js";
import { printerPatch } from "../state/state.js";

/**
 * @param {object} app
 * @param {HTMLElement} place
 * @param {{titleOf: function(string): string, chosen: function(object|null), problem: function(Error)}} how
 *   `titleOf` names a sheet format; `chosen` is called when a printer was taken up, or none
 * @returns {{load: function(): Promise, chosen: function(): object|null, isMine: function(object|null): boolean,
 *   add: function(object)}} `add` takes a printer that was saved, in place of what it was
 */
export function printerList(app, place, { titleOf, chosen, problem }) {
  const { t } = app;
  let printers = [];

  const now = () => printers.find((one) => one.id === app.state.sheets.printerId) ?? null;
  /** Only the owner may change a printer that is shared with a class. */
  const isMine = (printer) => printer !== null && (app.person.role === "local" || printer.owner_id === app.person.id);

  function draw() {
    const label = (one) => h("span", { class: "printer-label" }, h("span", { text: one.name }),
      h("span", { class: "small", text: summary(one) }));
    const options = [["", t("printer.none")], ...printers.map((one) => [one.id, label(one)])];
    fill(place, h("div", { class: "printers" },
      printers.length === 0 ? h("p", { class: "small", tabindex: "-1", text: t("printer.nothing-kept") })
        : choice("printer", t("printer.choose"), options, app.state.sheets.printerId ?? "", take, { hideLegend: true }),
      isMine(now()) && mayDelete() && h("div", {}, h("button", { type: "button", class: "button quiet flush", on: { click: forget } },
        t("printer.forget", { name: now().name })))));
  }

  function summary(one) {
    const factors = t("printer.factors", { across: t.number(one.across_correction, 4), down: t.number(one.down_correction, 4) });
    return [titleOf(one.format), factors, one.class_id && t("printer.of-class")].filter(Boolean).join(" · ");
  }

  function take(id) {
    const printer = printers.find((one) => one.id === id) ?? null;
    app.update(printerPatch(printer));
    draw();
    chosen(printer);
    place.querySelector(":checked")?.focus();
    app.announce(printer ? t("printer.taken", { name: printer.name }) : t("printer.none-taken"));
  }

  async function forget() {
    const printer = now();
    try {
      await printerApi.deletePrinter(printer.id);
      printers = printers.filter((one) => one.id !== printer.id);
      app.update(printerPatch(null));
      draw();
      chosen(null);
      place.querySelector("input, p")?.focus();
      app.announce(t("printer.forgotten", { name: printer.name }));
    } catch (error) {
      problem(error);
    }
  }

  return {
    async load() {
      printers = await printerApi.printers();
      draw();
    },
    chosen: now,
    isMine,
    add(printer) {
      printers = [...printers.filter((one) => one.id !== printer.id), printer];
      draw();
    },
  };
}
