// The part of the studio's checklist that is about the support: hinge, transfer, wall, cautions.
// It agrees with the second page of the printed guide.

import { writeSize } from "../lib/units.js";

/** What each medium brings to take care of; blades come with every pack. */
const BROUGHT = {
  graphite: ["fixative"], "coloured-pencil": ["fixative"], pastel: ["dust", "fixative"], paint: ["solvents"], other: [],
};
const ON_A_WALL = ["ladder", "powder"];

/** What to take care of with this medium and job. @returns {string[]} */
export function cautionsOf({ plan, spec }) {
  return [...BROUGHT[spec.support.medium], ...(plan.on_wall ? ON_A_WALL : []), "first"];
}

/** The sections from the joined sheets to the drawing. */
export function transferSections(about) {
  const cautions = cautionsOf(about);
  if (about.plan.on_wall) {
    return [{ name: "wall", steps: settingOut(about) }, { name: "pounce", steps: pouncing(about), cautions }];
  }
  return [{ name: "hinge", steps: hinging(about) }, { name: "transfer", steps: transferring(about), cautions }];
}

function hinging({ t, spec, unit, length }) {
  const { support, print } = spec;
  const size = writeSize(support.width_mm, support.height_mm, unit, t.language);
  const border = support.border_mm > 0
    ? t("studio.hinge.border", { border: length(support.border_mm) })
    : t("studio.hinge.flush");
  return [
    { id: "board", text: t("studio.hinge.board") },
    { id: "measure", text: t("studio.hinge.measure", { size }) },
    { id: "lay", text: border, note: print.mirror ? t("studio.hinge.face-down") : "" },
    { id: "hinge", text: t("studio.hinge.flap") },
    { id: "slip", text: t("studio.hinge.slip") },
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
    ];
  const passes = plan.passes.map(({ number, labels }) => ({
    id: `pass-${number}`,
    text: t("studio.transfer.pass", { number: String(number), labels: labels.join(" ") }),
    note: number === 1 ? t("studio.transfer.look") : "",
  }));
  return [...before, ...(passes.length > 1 ? passes : []), { id: "lift", text: t("studio.transfer.lift") }];
}

function settingOut({ t, plan, unit }) {
  const { width_mm: width, height_mm: height } = plan.picture;
  const lines = plan.run_through === "down" ? "studio.wall.columns" : "studio.wall.rows";
  return [
    { id: "corner", text: t("studio.wall.corner") },
    { id: "rectangle", text: t("studio.wall.rectangle", { size: writeSize(width, height, unit, t.language) }) },
    { id: "lines", text: t(lines), note: t("studio.wall.guide") },
  ];
}

function pouncing({ t, plan, spec }) {
  return [
    { id: "prick", text: t("studio.wall.prick") },
    ...plan.passes.map(({ number, labels }) => ({
      id: `pass-${number}`,
      text: t("studio.wall.strip", { number: String(number), labels: `${labels[0]} – ${labels.at(-1)}` }),
      note: number === 1 ? t(`studio.wall.powder-${spec.support.tone}`) : "",
    })),
    { id: "dots", text: t("studio.wall.dots") },
  ];
}
