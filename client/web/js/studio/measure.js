// The fields of a step that measures, each with its verdict: the sheet that is printed first, and
// the lengths of the joined enlargement. What each may be off is in the plan.

import { h } from "../lib/browser/dom.js";
import { measuredField } from "../controls/measured-field.js";
import { checkOf, leanOf, readingOf, savedName, unitOf } from "./judgement.js";
import { writeLengthUnit } from "../lib/texts/units.js";

/**
 * @param {object} app
 * @param {object} pack
 * @param {{scope, names}} measure of the step
 * @param {{saved: object, save: function(object), apply: function({across, down}), told?: function(boolean)}} how
 *   `told` is called with whether all of them are true
 * @returns {HTMLElement}
 */
export function measurePart(app, pack, measure, { saved, save, apply, told = () => {} }) {
  const { t } = app;
  const unit = unitOf(pack, measure, app.state.paper.unit);
  const length = (mm) => writeLengthUnit(mm, unit, t.language);
  const sheet = measure.scope === "sheet";
  const lengthsMm = {};
  const verdicts = {};
  const correction = sheet ? correctionPart(app, pack, apply) : null;
  const lean = h("p", { class: "verdict", role: "status", hidden: measure.names.length < 2 || sheet });

  const fields = measure.names.map((name) => {
    const check = checkOf(pack, measure, name);
    const stored = savedName(measure, name);
    const right = length(check.length_mm);
    const element = measuredField({
      t, unit, saved: saved[stored] ?? "", exampleMm: check.length_mm,
      label: t(sheet ? `printer.bar.${name}` : `printer.length.${name}`),
      note: t("printer.bar.within", { length: right, tolerance: length(check.tolerance_mm) }),
    }, (text, mm, showVerdict) => {
      if (text !== (saved[stored] ?? "")) save({ [stored]: text });
      lengthsMm[name] = mm;
      const read = readingOf(pack, measure, name, mm);
      verdicts[name] = read?.verdict ?? null;
      told(measure.names.every((one) => verdicts[one] === "fine"));
      correction?.show(name, read?.factor ?? null);
      showLean();
      showVerdict(read ? { says: says(read), wrong: read.verdict !== "fine" } : { says: "", wrong: false });
    });
    const input = element.querySelector("input");
    // One tap in place of typing, for whoever has chalk on the hands.
    const exact = h("button", {
      type: "button", class: "exact",
      on: { click: () => {
        input.value = right;
        input.dispatchEvent(new Event("input"));
      } },
    }, t("printer.exactly", { length: right }));
    element.querySelector(".field-row").append(exact);
    return element;
  });

  function says(read) {
    const off = length(Math.abs(read.offMm));
    const percent = t.number(read.share * 100, 1);
    if (!sheet) return t(`printer.length.${read.verdict}`, { off, percent, unit: read.unit ?? "" });
    return t(`printer.bar.${read.verdict}`, {
      off, percent, way: read.way === "true" ? "" : t(`printer.bar.${read.way}`), unit: read.unit ?? "",
    });
  }

  function showLean() {
    const read = lean.hidden ? null : leanOf(pack, lengthsMm);
    const other = { left: "right", right: "left" }[read?.toward];
    lean.classList.toggle("wrong", read?.verdict === "leans");
    lean.textContent = !read ? "" : read.verdict === "alike" ? t("printer.length.alike") : t("printer.length.leans", {
      toward: t(`printer.length.${read.toward}`), back: t(`printer.length.${other}`), shift: length(read.shiftMm),
    });
  }

  return h("div", { class: "lengths" }, fields, lean, correction?.element, sheet && sheetNotes(app, pack));
}

/** What may be wrong with the printed sheet besides its lengths. */
function sheetNotes({ t }, pack) {
  const link = (key) => h("a", { href: "#printer" }, t(key));
  return [
    !pack.plan.sheet_to_test.tells && h("p", { class: "notice" }, t("printer.bar.short-sheet"), " ", link("printer.measure")),
    h("details", {}, h("summary", { text: t("printer.bar.missing") }),
      h("p", { class: "small", text: t("printer.bar.clipped") }), h("p", { class: "small" }, link("printer.bar.margins"))),
  ];
}

/** The correction that follows, with its button. @returns {{element, show: function(string, number|null)}} */
function correctionPart({ t }, pack, apply) {
  const element = h("div", { class: "notice", hidden: true });
  const { across_correction: across, down_correction: down } = pack.spec.print;
  const factors = { across: null, down: null };

  function show(way, factor) {
    factors[way] = factor;
    const found = Object.values(factors).filter((one) => one !== null);
    const set = { across: factors.across ?? across, down: factors.down ?? down };
    element.hidden = found.length === 0;
    element.replaceChildren(
      h("p", { text: t("printer.bar.factors", { across: t.number(set.across, 4), down: t.number(set.down, 4) }) }),
      ...(found.length === 1 ? [h("p", { class: "small", text: t("printer.bar.one-more") })] : []),
      h("button", { type: "button", class: "button", on: { click: () => apply(set) } }, t("printer.bar.apply")),
      h("p", { class: "small" }, h("a", { href: "#printer" }, t("printer.for-good"))));
  }

  return { element, show };
}
