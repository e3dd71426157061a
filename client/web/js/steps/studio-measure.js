// The fields for measured lengths and their verdicts: the sheet that is printed first, and the
// lengths of the joined enlargement. What each may be off is in the plan.

import { h } from "../lib/dom.js";
import { readDiagonals, readLength as judge, readSheet } from "../lib/measured-length.js";
import { measuredField } from "../controls/measured-field.js";
import { workUnit, writeLengthUnit } from "../lib/units.js";

const percent = (t, share) => t.number(share * 100, 1);

/**
 * The sheet that is printed first, from cut to cut, across and down its page.
 * @param {object} app
 * @param {object} pack
 * @param {{saved: object, save: function(object), apply: function({across, down}), told: function(boolean)}} how
 *   `told` is called with whether both ways are true
 */
export function sheetPart(app, pack, { saved, save, apply, told = () => {} }) {
  const { t } = app;
  // Rules of people with North American sheets have inches.
  const unit = pack.spec.sheet.format.startsWith("na_") ? "in" : "mm";
  const { label, tells } = pack.plan.sheet_to_test;
  const current = { across: pack.spec.print.across_correction, down: pack.spec.print.down_correction };
  const ways = Object.fromEntries(pack.plan.check_lengths.filter((check) => check.scope === "sheet").map((check) => [
    check.name, { nominalMm: check.length_mm, current: current[check.name], toleranceMm: check.tolerance_mm },
  ]));
  const factors = { across: null, down: null };
  const verdicts = { across: null, down: null };
  const advice = h("div", { class: "notice", hidden: true });
  const stepOf = ({ across, down }) => ({ across: across ?? ways.across.current, down: down ?? ways.down.current });

  function advise() {
    const found = Object.values(factors).filter((factor) => factor !== null);
    advice.hidden = found.length === 0;
    const set = stepOf(factors);
    advice.replaceChildren(
      h("p", { text: t("studio.bar.factors", { across: t.number(set.across, 4), down: t.number(set.down, 4) }) }),
      ...(found.length === 1 ? [h("p", { class: "small", text: t("studio.bar.one-more") })] : []),
      h("button", { type: "button", class: "button", on: { click: () => apply(set) } }, t("studio.bar.apply")),
      h("p", { class: "small" }, h("a", { href: "#printer" }, t("printer.for-good"))));
  }

  const one = (way) => measuredField({
    t, unit, saved: saved[way] ?? "", exampleMm: ways[way].nominalMm,
    label: t(`studio.bar.${way}`),
    note: t("studio.bar.within", {
      length: writeLengthUnit(ways[way].nominalMm, unit, t.language),
      tolerance: writeLengthUnit(ways[way].toleranceMm, unit, t.language),
    }),
  }, (text, mm, showVerdict) => {
    if (text !== (saved[way] ?? "")) save({ [way]: text });
    const read = mm === null ? null : readSheet({ ...ways[way], measuredMm: mm });
    factors[way] = read?.factor ?? null;
    verdicts[way] = read?.verdict ?? null;
    told(verdicts.across === "fine" && verdicts.down === "fine");
    advise();
    showVerdict(read ? { says: barSays(t, read, unit), wrong: read.verdict !== "fine" } : { says: "", wrong: false });
  });

  return h("div", { class: "bars" }, h("h2", { class: "minor", text: t("studio.bar.title", { label }) }),
    one("across"), one("down"),
    !tells && h("p", { class: "notice" }, t("studio.bar.short-sheet"), " ", h("a", { href: "#printer" }, t("printer.measure"))),
    advice, h("p", { class: "small", text: t("studio.bar.clipped") }),
    h("p", { class: "small" }, h("a", { href: "#printer" }, t("studio.bar.margins"))));
}

function barSays(t, read, unit) {
  return t(`studio.bar.${read.verdict}`, {
    off: writeLengthUnit(Math.abs(read.offMm), unit, t.language),
    way: read.way === "true" ? "" : t(`studio.bar.${read.way}`),
    percent: percent(t, read.share), unit: read.unit ?? "",
  });
}

/**
 * The lengths of the joined enlargement.
 * @param {{saved: object, save: function(object)}} how
 */
export function lengthsPart(app, pack, { saved, save }) {
  const { t } = app;
  const unit = workUnit(app.state.paper.unit);
  const checks = pack.plan.check_lengths.filter((check) => check.scope === "joined");
  const measuredMm = {};
  const lean = h("p", { class: "verdict", role: "status" });
  const length = (mm) => writeLengthUnit(mm, unit, t.language);
  const corner = (text) => {
    const [label, ...place] = text.split(" ");
    const where = t(`studio.corner.${place.join(" ")}`);
    return pack.plan.sheet_count > 1 ? `${label} ${where}` : where;
  };

  const parts = checks.map((check) => measuredField({
    t, unit, saved: saved[check.name] ?? "", exampleMm: check.length_mm,
    label: t(`studio.length.${check.name}`),
    note: t("studio.length.from-to", {
      from: corner(check.from), to: corner(check.to), length: length(check.length_mm), tolerance: length(check.tolerance_mm),
    }),
  }, (text, mm, showVerdict) => {
    if (text !== (saved[check.name] ?? "")) save({ [check.name]: text });
    const read = mm === null ? null
      : judge({ nominalMm: check.length_mm, measuredMm: mm, toleranceMm: check.tolerance_mm });
    // An implausible figure gives no skew.
    measuredMm[check.name] = ["fine", "short", "long"].includes(read?.verdict) ? mm : null;
    showLean(check.tolerance_mm);
    const says = read ? t(`studio.length.${read.verdict}`, {
      off: length(Math.abs(read.offMm)), percent: percent(t, read.share), unit: read.unit ?? "",
    }) : "";
    showVerdict({ says, wrong: Boolean(read) && read.verdict !== "fine" });
  }));

  function showLean(toleranceMm) {
    const falling = measuredMm.diagonal;
    const rising = measuredMm["other diagonal"];
    if (!falling || !rising) {
      lean.textContent = "";
      return;
    }
    const read = readDiagonals({
      fallingMm: falling, risingMm: rising, widthMm: pack.plan.picture.width_mm, toleranceMm,
    });
    const other = { left: "right", right: "left" }[read.toward];
    lean.textContent = read.verdict === "alike" ? t("studio.length.alike") : t("studio.length.leans", {
      toward: t(`studio.length.${read.toward}`), back: t(`studio.length.${other}`), shift: length(read.shiftMm),
    });
    lean.classList.toggle("wrong", read.verdict !== "alike");
  }

  return h("div", { class: "lengths" }, parts, lean);
}
