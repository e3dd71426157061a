// The controls of the printer in the paper step: sheet format and unprintable margins.

import { fill, h } from "../../lib/browser/dom.js";
import { choice, field, select } from "../../controls/fields.js";
import { lengthField } from "../../controls/length-field.js";
import { EDGES, MARGINS, MOST_MARGIN_MM } from "../../lib/paper/margins.js";
import { workUnit, writeSize } from "../../lib/texts/units.js";

/** Sheet format and margins. @returns {{element: Array, load: function(Array), unmount: function}} */
export function printerControls(app) {
  const { t } = app;
  const sheets = h("div");
  const margins = h("div", { class: "paper-margins" });
  load([]);
  drawMargins();
  // A selected printer sets sheet format and margins.
  const stop = app.subscribe(({ paper, sheets: { printerId } }, before) => {
    if (printerId !== before.sheets.printerId) follow(paper);
    else if (paper.unit !== before.paper.unit) drawMargins();
  });

  function follow(paper) {
    sheets.querySelector("select").value = paper.sheetFormat;
    drawMargins();
  }

  function load(formats) {
    fill(sheets, field(t("paper.sheet"), select(
      [{ options: formats.map((one) => [one.name, sheetTitle(t, one)]) }], app.state.paper.sheetFormat,
      (sheetFormat) => app.update({ paper: { sheetFormat } }),
    )).element);
  }

  function drawMargins() {
    const { marginPreset } = app.state.paper;
    const options = ["tight", "safe", "own"].map((one) => [one, t(`paper.margin-${one}`)]);
    fill(margins,
      choice("margins", t("paper.margins"), options, marginPreset, takePreset),
      h("p", { class: "note", text: t(`paper.margin-note-${marginPreset}`) }),
      marginPreset === "own" && h("div", { class: "fields" }, EDGES.map(marginField)));
  }

  function takePreset(preset) {
    const figures = MARGINS[preset];
    app.update({ paper: { marginPreset: preset, ...(figures ? { margin: { ...figures } } : {}) } });
    drawMargins();
    margins.querySelector(":checked").focus();
  }

  function marginField(edge) {
    const { margin, unit } = app.state.paper;
    return lengthField(t, {
      label: t(`paper.${edge}`), mm: margin[edge], unit: workUnit(unit), most: () => MOST_MARGIN_MM,
      change: (mm) => app.update({ paper: { margin: { ...app.state.paper.margin, [edge]: mm } } }),
    });
  }

  return { element: [sheets, margins], load, unmount: stop };
}

function sheetTitle(t, one) {
  const unit = one.name.startsWith("na_") ? "in" : "mm";
  return `${one.title} · ${writeSize(one.width_mm, one.height_mm, unit, t.language)}`;
}
