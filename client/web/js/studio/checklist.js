// The steps of one pack after it is made, from its plan: what to do, which sheets it is about, and
// what is measured. They agree with the printed guide.

import { workUnit, writeLengthUnit } from "../lib/texts/units.js";
import { transferSections } from "./transfer-steps.js";

/**
 * @typedef {object} Step
 * @property {string} key under which its tick is stored
 * @property {string} section
 * @property {string} text
 * @property {string} [note]
 * @property {string[]} [lit] labels of the sheets that it is about; without any it is about none of them
 * @property {"spots"|"seams"|"flap"} [draw] what else the map shows
 * @property {{scope: "sheet"|"joined", names: string[]}} [measure] the lengths that are measured; they decide the tick
 * @property {string[]} [care] what to take care of; `careFirst` where it comes up for the first time
 * @property {boolean} [careFirst]
 */

/**
 * @param {object} t
 * @param {object} pack the pack's document, with spec and plan
 * @param {"cm"|"mm"|"in"} unit
 * @param {string} format title of the sheet format
 * @returns {Step[]}
 */
export function studioSteps(t, pack, unit, format) {
  const one = pack.plan.sheet_count === 1;
  const length = (mm) => writeLengthUnit(mm, workUnit(unit), t.language);
  const all = pack.plan.pieces.map((piece) => piece.label);
  const about = { t, plan: pack.plan, spec: pack.spec, unit, length, format, all };
  const sections = [
    { name: "print", steps: printing(about) },
    { name: "cut", steps: cutting(about) },
    ...(one ? [] : [{ name: "join", steps: joining(about) }, { name: "tape", steps: taping(about) }]),
    { name: "check", steps: checking(about) },
    ...transferSections(about),
  ];
  return sections.flatMap(({ name, steps }) => steps.map(({ id, ...step }, index) => ({
    ...step, key: `${name}.${id}`, section: name, careFirst: Boolean(step.care) && !steps[index - 1]?.care,
  })));
}

/** What ink to take, by what is printed. */
const INK = { colour: "colour", outline: "lines" };

function printing({ t, plan, spec, format }) {
  const { label, page } = plan.sheet_to_test;
  const rest = plan.pieces.filter((piece) => piece.page !== page).sort((one, other) => one.page - other.page);
  const load = t(`studio.print.load-${INK[spec.tone.style] ?? "grey"}`, { format });
  const steps = [
    { id: "load", text: load, note: t("studio.print.load-note") },
    { id: "test", lit: [label], text: t(rest.length > 0 ? "studio.print.test" : "studio.print.test-one", { label, page: String(page) }) },
    { id: "measure", lit: [label], text: t("printer.bar.title", { label }), measure: { scope: "sheet", names: ["across", "down"] } },
  ];
  if (rest.length > 0) {
    const pages = { count: rest.length, pages: pageRanges(rest.map((piece) => piece.page)) };
    steps.push({ id: "rest", lit: rest.map((piece) => piece.label), text: t("studio.print.rest", pages), note: t("studio.print.rest-note") });
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

function cutting({ t, plan, spec, length, all }) {
  const care = ["blades", "first"];
  const top = plan.pieces.filter((piece) => piece.row === 0).map((piece) => piece.label);
  const flap = plan.on_wall ? [] : [{ id: "flap", lit: top, draw: "flap", text: t("studio.cut.flap"), care }];
  if (plan.sheet_count === 1) return [{ id: "cut-one", lit: all, text: t("studio.cut.one"), note: t("studio.cut.how"), care }, ...flap];
  // The edge that is left as a flap has no cut.
  const cuts = (margin) => ["left", "top", "right", "bottom"]
    .filter((edge) => margin[edge] !== undefined)
    .map((edge) => t(`studio.cut.at-${edge}`, { length: length(margin[edge]) })).join(", ");
  const stacks = plan.trim_stacks.map(({ labels, margin_mm: margin }, index) => ({
    id: `stack-${index}`, lit: labels, care,
    text: t("studio.cut.stack", { name: roman(index + 1), labels: labels.join(" ") }),
    note: `${cuts(margin)}. ${t("studio.cut.how")}`,
  }));
  const lap = spec.seams.joint === "lap" ? [{ id: "lap", lit: all, text: t("studio.cut.lap"), care }] : [];
  return [{ id: "mark", lit: all, text: t("studio.cut.mark") }, ...flap, ...lap, ...stacks];
}

function joining({ t, plan, spec, all }) {
  const down = plan.run_through === "down";
  const turned = plan.pieces.filter((piece) => piece.turned_deg !== 0).map((piece) => piece.label);
  const lines = new Map();
  for (const { label, row, column } of plan.pieces) {
    const line = down ? column : row;
    lines.set(line, [...(lines.get(line) ?? []), label]);
  }
  const steps = turned.length === 0 ? [] : [{
    id: "turned", lit: turned,
    text: turned.length === all.length ? t("studio.join.turned-all") : t("studio.join.turned", { labels: turned.join(" ") }),
  }];
  steps.push(spec.seams.joint === "lap"
    ? { id: "edge", lit: all, draw: "seams", text: t("studio.join.lap") }
    : { id: "edge", lit: all, draw: "seams", text: t("studio.join.edge"), note: spec.seams.register_marks ? t("studio.join.marks") : "" });
  for (const [line, labels] of [...lines].sort(([one], [other]) => one - other)) {
    const name = String(line + 1);
    if (labels.length > 1) {
      steps.push({
        id: `line-${line}`, lit: labels, text: t(down ? "studio.join.column" : "studio.join.row", { name, labels: labels.join(" – ") }),
      });
    }
  }
  if (lines.size > 1) {
    const way = down ? "columns" : "rows";
    steps.push({ id: "lines", lit: all, text: t(plan.on_wall ? `studio.join.strip-${way}` : `studio.join.${way}`) });
  }
  return steps;
}

function taping({ t, plan, spec, all }) {
  if (spec.seams.joint === "lap") {
    return [{ id: "glue", lit: all, draw: "seams", text: t("studio.tape.glue"), note: t("studio.tape.dry") }];
  }
  const count = plan.tape_spots.length;
  return [
    { id: "tack", lit: all, draw: "spots", text: count > 0 ? t("studio.tape.tack", { count }) : t("studio.tape.tack-by-eye") },
    { id: "back", lit: all, draw: "seams", text: t("studio.tape.back") },
  ];
}

/** The lengths of the joined enlargement; for a wall those of its strips, as in the guide. */
function checking({ t, plan }) {
  const joined = (...names) => ({ scope: "joined", names });
  if (plan.on_wall) {
    const down = plan.run_through === "down";
    return [{
      id: "strips", text: t(down ? "studio.check.strip-columns" : "studio.check.strip-rows"), measure: joined(down ? "height" : "width"),
    }];
  }
  const sides = ["width", "height"].map((name) => ({ id: name, text: t(`studio.check.${name}`), measure: joined(name) }));
  return plan.sheet_count === 1 ? sides
    : [...sides, { id: "diagonals", text: t("studio.check.diagonals"), measure: joined("diagonal", "other diagonal") }];
}
