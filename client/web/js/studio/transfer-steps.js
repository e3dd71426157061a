// The steps that are about the support: hinge, transfer, wall, and the first steps after it, each
// with what to take care of. They agree with the second page of the printed guide.

import { writeSize } from "../lib/texts/units.js";

/** What each medium brings to take care of. */
const BROUGHT = {
  graphite: ["fixative"], "coloured-pencil": ["fixative"], pastel: ["dust", "fixative"], paint: ["solvents"], other: [],
};
/** What of a picture is traced, by its style. */
const TRACED = { outline: "lines", mixed: "mixed", values: "borders" };

/** The sections from the joined sheets to the drawing. */
export function transferSections(about) {
  if (about.plan.on_wall) {
    return [{ name: "wall", steps: settingOut(about) }, { name: "pounce", steps: pouncing(about) }];
  }
  return [
    { name: "hinge", steps: hinging(about) }, { name: "transfer", steps: transferring(about) }, { name: "begin", steps: beginning(about) },
  ];
}

function hinging({ t, spec, unit, length, all }) {
  const { support, print } = spec;
  const size = writeSize(support.width_mm, support.height_mm, unit, t.language);
  const border = support.border_mm > 0
    ? t("studio.hinge.border", { border: length(support.border_mm) })
    : t("studio.hinge.flush");
  return [
    { id: "board", text: t("studio.hinge.board") },
    { id: "measure", text: t("studio.hinge.measure", { size }) },
    { id: "lay", lit: all, text: border, note: print.mirror ? t("studio.hinge.face-down") : "" },
    { id: "hinge", lit: all, draw: "flap", text: t("studio.hinge.flap") },
    { id: "slip", lit: all, draw: "flap", text: t("studio.hinge.slip") },
  ];
}

function transferring({ t, plan, spec }) {
  const { mirror } = spec.print;
  const before = mirror
    ? [{ id: "paper", text: t("studio.transfer.mirror") }, { id: "press", text: t("studio.transfer.rub") }]
    : [
      { id: "paper", text: t(`studio.transfer.${spec.support.tone}`), note: t("studio.transfer.wipe") },
      { id: "scrap", text: t("studio.transfer.scrap") },
      { id: "press", text: t("studio.transfer.press"), note: t("studio.transfer.hand") },
      { id: "what", text: t(`studio.transfer.what-${TRACED[spec.tone.style] ?? "photo"}`) },
    ];
  const passes = plan.passes.map(({ number, labels }) => ({
    id: `pass-${number}`, lit: labels,
    text: t("studio.transfer.pass", { number: String(number), labels: labels.join(" ") }),
    note: number === 1 ? t("studio.transfer.look") : "",
  }));
  return [...before, ...(passes.length > 1 ? passes : []), { id: "lift", draw: "flap", text: t("studio.transfer.lift") }];
}

/** What is done with the lines before drawing, and what the medium asks to take care of. */
function beginning({ t, spec: { support } }) {
  const dark = support.medium === "paint" ? "lines-paint-dark" : "dust";
  const care = [...BROUGHT[support.medium], "first"];
  return [{ id: "lines", text: t(`studio.begin.${support.tone === "dark" ? dark : `lines-${support.medium}`}`), care }];
}

function settingOut({ t, plan, unit, all }) {
  const { width_mm: width, height_mm: height } = plan.picture;
  const lines = plan.run_through === "down" ? "studio.wall.columns" : "studio.wall.rows";
  const care = ["ladder"];
  return [
    { id: "corner", text: t("studio.wall.corner"), care },
    { id: "rectangle", text: t("studio.wall.rectangle", { size: writeSize(width, height, unit, t.language) }), care },
    { id: "lines", lit: all, draw: "seams", text: t(lines), note: t("studio.wall.guide"), care },
  ];
}

function pouncing({ t, plan, spec, all }) {
  const brought = BROUGHT[spec.support.medium];
  const care = ["powder", "ladder", ...brought, "first"];
  return [
    { id: "prick", lit: all, text: t("studio.wall.prick") },
    ...plan.passes.map(({ number, labels }) => ({
      id: `pass-${number}`, lit: labels, care,
      text: t("studio.wall.strip", { number: String(number), labels: `${labels[0]} – ${labels.at(-1)}` }),
      note: number === 1 ? t(`studio.wall.powder-${spec.support.tone}`) : "",
    })),
    { id: "dots", text: t("studio.wall.dots"), care },
  ];
}
