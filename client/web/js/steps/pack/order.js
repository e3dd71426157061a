// The pack before it is made: its title, what it will be, and the printer's correction.

import * as api from "../../api/service.js";
import { h } from "../../lib/browser/dom.js";
import { field } from "../../controls/fields.js";
import { printerPatch, specOf } from "../../state/state.js";
import { writeSize } from "../../lib/texts/units.js";

/**
 * @param {object} app
 * @param {{make: function, redraw: function, planned: function(object), problem: function(Error)}} actions
 *   `planned` is called with the plan
 * @returns {HTMLElement} Enter in the title makes the pack
 */
export function orderForm(app, { make, redraw, planned, problem }) {
  const { t } = app;
  const input = h("input", {
    type: "text", maxlength: 120, value: app.state.title, autocomplete: "off", enterkeyhint: "go",
    placeholder: t("common.untitled"), on: { input: () => app.update({ title: input.value }) },
  });
  const size = h("p", { class: "pack-is" });
  describe();

  async function describe() {
    const { state } = app;
    try {
      const [plan, formats] = await Promise.all([
        api.plan(state.photo.referenceId, specOf(state)), api.sheetFormats(),
      ]);
      size.textContent = t("pack.summary", {
        size: writeSize(state.paper.widthMm, state.paper.heightMm, state.paper.unit, t.language),
        sheets: t("common.sheets", { count: plan.sheet_count }),
        format: formats.find((one) => one.name === state.paper.sheetFormat)?.title ?? "",
      });
      planned(plan);
    } catch (error) {
      problem(error);
    }
  }

  function send(event) {
    event.preventDefault();
    make();
  }

  return h("form", { class: "pack-order", on: { submit: send } }, size,
    field(t("pack.name"), input, { note: t("pack.name-note") }).element, correction(app, redraw),
    h("p", {}, h("a", { href: "#squares" }, t("paper.by-squares"))));
}

function correction(app, redraw) {
  const { t } = app;
  const { acrossCorrection, downCorrection } = app.state.sheets;
  if (acrossCorrection === 1 && downCorrection === 1) return null;
  const factor = (value) => t.number(value, 4);
  return h("div", { class: "notice" },
    h("p", { text: t("printer.corrected", { across: factor(acrossCorrection), down: factor(downCorrection) }) }),
    h("button", {
      type: "button", class: "button",
      on: { click: () => { app.update(printerPatch(null)); redraw(); } },
    }, t("pack.uncorrect")));
}
