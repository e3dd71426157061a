// The checklist of one pack, made from its plan: the steps after printing, in order, with the
// pack's figures. It agrees with the printed guide.

import { workUnit, writeLengthUnit } from "../lib/units.js";
import { transferSections } from "./studio-transfer.js";

/**
 * @param {object} t
 * @param {object} pack the pack's document, with spec and plan
 * @param {"cm"|"mm"|"in"} unit
 * @param {string} format title of the sheet format
 * @returns {Array<{name: string, steps: Array<{id: string, text: string, note?: string}>, cautions?: string[]}>}
 */
export function studioSections(t, pack, unit, format) {
  const one = pack.plan.sheet_count === 1;
  const length = (mm) => writeLengthUnit(mm, workUnit(unit), t.language);
  const about = { t, plan: pack.plan, spec: pack.spec, unit, length, format };
  return [
    { name: "print", steps: printing(about) },
    { name: "cut", steps: cutting(about), cautions: ["blades"] },
    ...(one ? [] : [{ name: "join", steps: joining(about) }, { name: "tape", steps: taping(about) }]),
    { name: "check", steps: [] },
    ...transferSections(about),
  ];
}

function printing({ t, plan, format }) {
  const { label, page } = plan.sheet_to_test;
  const rest = plan.pieces.map((piece) => piece.page).filter((one) => one !== page).sort((one, other) => one - other);
  const steps = [
    { id: "load", text: t("studio.print.load", { format }) },
    { id: "test", text: t(rest.length > 0 ? "studio.print.test" : "studio.print.test-one", { label, page: String(page) }) },
  ];
  if (rest.length > 0) {
    const pages = { count: rest.length, pages: pageRanges(rest) };
    steps.push({ id: "rest", text: t("studio.print.rest", pages), note: t("studio.print.rest-note") });
  }
  return steps;
}

/** Ascending pages as printers take them: `4-6, 8`. */
function pageRanges(pages) {
  const runs = [];
  for (const page of pages) {
    const last = runs.at(-1);
    if (last && page === last[1] + 1) last[1] = page;
    else runs.push([page, page]);
  }
  return runs.map(([from, to]) => (from === to ? `${from}` : `${from}-${to}`)).join(", ");
}

const ROMAN = [[10, "X"], [9, "IX"], [5, "V"], [4, "IV"], [1, "I"]];

/** A Roman number, as the stacks have on the printed map. */
function roman(number) {
  let left = number;
  let written = "";
  for (const [value, sign] of ROMAN) {
    while (left >= value) {
      written += sign;
      left -= value;
    }
  }
  return written;
}

function cutting({ t, plan, spec, length }) {
  const flap = plan.on_wall ? [] : [{ id: "flap", text: t("studio.cut.flap") }];
  if (plan.sheet_count === 1) return [{ id: "cut-one", text: t("studio.cut.one"), note: t("studio.cut.how") }, ...flap];
  // The edge that is left as a flap has no cut.
  const cuts = (margin) => ["left", "top", "right", "bottom"]
    .filter((edge) => margin[edge] !== undefined)
    .map((edge) => t(`studio.cut.at-${edge}`, { length: length(margin[edge]) })).join(", ");
  const stacks = plan.trim_stacks.map(({ labels, margin_mm: margin }, index) => ({
    id: `stack-${index}`,
    text: t("studio.cut.stack", { name: roman(index + 1), labels: labels.join(" ") }),
    note: cuts(margin),
  }));
  const lap = spec.seams.joint === "lap" ? [{ id: "lap", text: t("studio.cut.lap") }] : [];
  return [{ id: "mark", text: t("studio.cut.mark"), note: t("studio.cut.how") }, ...flap, ...stacks, ...lap];
}

function joining({ t, plan }) {
  const down = plan.run_through === "down";
  const turned = plan.pieces.filter((piece) => piece.turned_deg !== 0).map((piece) => piece.label);
  const lines = new Map();
  for (const { label, row, column } of plan.pieces) {
    const line = down ? column : row;
    lines.set(line, [...(lines.get(line) ?? []), label]);
  }
  const all = turned.length === plan.sheet_count;
  const steps = turned.length === 0 ? [] : [{
    id: "turned", text: all ? t("studio.join.turned-all") : t("studio.join.turned", { labels: turned.join(" ") }),
  }];
  for (const [line, labels] of [...lines].sort(([one], [other]) => one - other)) {
    const name = String(line + 1);
    if (labels.length > 1) {
      steps.push({
        id: `line-${line}`, text: t(down ? "studio.join.column" : "studio.join.row", { name, labels: labels.join(" – ") }),
      });
    }
  }
  if (lines.size > 1) {
    const way = down ? "columns" : "rows";
    steps.push({ id: "lines", text: t(plan.on_wall ? `studio.join.strip-${way}` : `studio.join.${way}`) });
  }
  return steps;
}

function taping({ t, plan, spec }) {
  if (spec.seams.joint === "lap") {
    return [{ id: "glue", text: t("studio.tape.glue"), note: t("studio.tape.dry") }];
  }
  const count = plan.tape_spots.length;
  return [
    { id: "tack", text: count > 0 ? t("studio.tape.tack", { count }) : t("studio.tape.tack-by-eye") },
    { id: "back", text: t("studio.tape.back") },
  ];
}
