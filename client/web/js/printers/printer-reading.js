// The fields for the readings of a test page, with the service's verdict while they are typed.

import { h } from "../lib/browser/dom.js";
import { lengthField } from "../controls/length-field.js";
import { newestOnly } from "../api/live-plan.js";
import { measuredField } from "../controls/measured-field.js";
import { readings } from "../api/printers.js";
import { EDGES, MOST_MARGIN_MM } from "../lib/paper/margins.js";
import { MM_PER_INCH, writeLength, writeLengthUnit } from "../lib/texts/units.js";
import { problemText } from "../lib/texts/words.js";

/** The longest bar of a test page, the step of shorter ones, and the free length at each end. */
const LONGEST_MM = 200;
const LONGEST_IN = 8;
const STEP_MM = 20;
const FREE_MM = 5;
const WAYS = ["across", "down"];
/** A verdict is requested after this time without input. */
const REST_MS = 250;

/**
 * The lengths of the bars on a sheet's test page, as in worker/layout/measuring/printer_readings.py.
 * @param {{name: string, width_mm: number, height_mm: number}} sheet
 * @returns {{across: number, down: number}} in mm
 */
export function barsOf(sheet) {
  const bar = (side) => {
    const classLayout = side - 2 * FREE_MM;
    return sheet.name.startsWith("na_")
      ? Math.min(LONGEST_IN, Math.floor(classLayout / MM_PER_INCH)) * MM_PER_INCH
      : Math.min(LONGEST_MM, Math.floor(classLayout / STEP_MM) * STEP_MM);
  };
  return { across: bar(sheet.width_mm), down: bar(sheet.height_mm) };
}

/**
 * @param {object} t
 * @param {{unit: string, sheet: {name: string, width_mm: number, height_mm: number}, across: number|null, down: number|null,
 *   onChange: function()}} how `across` and `down` are earlier readings in mm
 * @returns {{element, read: function(): object|null, measured: function(): {across, down}, stop: function}}
 *   `read` gives both in mm; null while one of them is invalid; `measured` what is typed so far
 */
export function readingPart(t, { unit, sheet, onChange, ...known }) {
  const bars = barsOf(sheet);
  const found = { across: { mm: known.across, fine: true }, down: { mm: known.down, fine: true } };
  const stops = [];

  function one(way) {
    let timer = 0;
    const { ask, isSuperseded, stop } = newestOnly(async ({ mm, show }, signal) => {
      try {
        const verdicts = await readings({ format: sheet.name, [`${way}_mm`]: mm, [`${way === "across" ? "down" : "across"}_mm`]: null }, signal);
        if (!isSuperseded() && found[way].mm === mm) showVerdict(verdicts[way], show);
      } catch (error) {
        if (error.name !== "AbortError" && !isSuperseded() && found[way].mm === mm) showResult(false, problemText(t, error), show);
      }
    });

    const showVerdict = (verdict, show) => showResult(verdict.correction !== null, verdictText(t, verdict, unit), show);

    function showResult(fine, says, show) {
      found[way].fine = fine;
      show({ says, wrong: !fine });
      onChange();
    }

    stops.push(() => {
      clearTimeout(timer);
      stop();
    });
    return measuredField({
      t, unit, exampleMm: bars[way], label: t(`printer.${way}`),
      note: t("printer.bar.should", { length: writeLengthUnit(bars[way], unit, t.language) }),
      saved: known[way] === null ? "" : writeLength(known[way], unit, t.language),
    }, (text, mm, show) => {
      clearTimeout(timer);
      found[way] = { mm, fine: text === "" };
      if (mm === null) show({ says: "", wrong: false });
      else timer = setTimeout(() => ask({ mm, show }), REST_MS);
      onChange();
    });
  }

  return {
    element: h("div", { class: "readings" }, WAYS.map(one)),
    read() {
      if (!found.across.fine || !found.down.fine) return null;
      return { across_mm: found.across.mm, down_mm: found.down.mm };
    },
    measured: () => ({ across: found.across.mm, down: found.down.mm }),
    stop: () => stops.forEach((stop) => stop()),
  };
}

/** The text of a verdict. */
function verdictText(t, { measured_mm: measured, nominal_mm: nominal, correction, verdict }, unit) {
  if (verdict === "exact") return t("printer.exact");
  if (verdict === "page-fitting") return t("printer.fitting", { percent: t.number((measured / nominal) * 100, 1) });
  if (verdict === "implausible") return t("problem.reading-implausible");
  return t(measured < nominal ? "printer.short" : "printer.long", {
    off: writeLengthUnit(Math.abs(measured - nominal), unit, t.language), factor: t.number(correction, 4),
  });
}

/**
 * The fields for the margins, read from the step scales at the page's edges, in mm.
 * @param {object} t
 * @param {{top, right, bottom, left}} margin
 * @returns {{element, read: function(): object}}
 */
export function marginPart(t, margin) {
  const now = { ...margin };
  return {
    element: h("div", { class: "fields" }, EDGES.map((edge) => lengthField(t, {
      label: t(`paper.${edge}`), mm: now[edge], unit: "mm", most: () => MOST_MARGIN_MM,
      change: (mm) => { now[edge] = mm; },
    }))),
    read: () => ({ ...now }),
  };
}
