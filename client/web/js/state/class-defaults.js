// A class's defaults and fixed fields, applied to the page's state: a student has the ordinary
// steps, with some fields filled in or fixed by the tutor.

import { EDGES } from "../lib/paper/margins.js";

/** Fields of the spec, with the part and the name in the page's state. */
const FIELDS = [
  ["support.width_mm", "paper", "widthMm"],
  ["support.height_mm", "paper", "heightMm"],
  ["support.border_mm", "paper", "borderMm"],
  ["support.tone", "paper", "tone"],
  ["support.medium", "paper", "medium"],
  ["sheet.format", "paper", "sheetFormat"],
  ["tone.style", "sheets", "style"],
  ["tone.full_strength", "sheets", "fullStrength"],
  ["tone.lighten", "sheets", "lighten"],
  ["tone.lift", "sheets", "lift"],
  ["tone.contrast", "sheets", "contrast"],
  ["tone.outline.line_mm", "sheets", "lineMm"],
  ["tone.outline.detail", "sheets", "detail"],
  ["tone.outline.shortest_mm", "sheets", "shortestMm"],
  ["tone.outline.shadows", "sheets", "shadows"],
  ["tone.values.count", "sheets", "tones"],
  ["tone.values.thresholds", "sheets", "thresholds"],
  ["tone.values.smallest_mm", "sheets", "smallestMm"],
  ["grid.square_mm", "sheets", "gridMm"],
  ["grid.diagonals", "sheets", "gridDiagonals"],
  ["grid.line_mm", "sheets", "gridLineMm"],
  ["seams.joint", "sheets", "joint"],
  ["seams.lap_mm", "sheets", "lapMm"],
  ["seams.arrangement", "sheets", "arrangement"],
  ["seams.placement", "sheets", "placement"],
  ["seams.register_marks", "sheets", "registerMarks"],
  ["print.mirror", "sheets", "mirror"],
  ["print.black_only", "sheets", "blackOnly"],
  ["print.resolution_ppi", "sheets", "ppi"],
];

/** The value at a dotted path, or undefined. */
function at(spec, path) {
  return path.split(".").reduce((part, name) => part?.[name], spec);
}

/**
 * A partial spec as a change of the page's state.
 * @param {object} defaults
 * @returns {{paper?: object, sheets?: object}}
 */
export function patchOf(defaults) {
  const patch = {};
  for (const [path, part, name] of FIELDS) {
    const value = at(defaults, path);
    if (value !== undefined) patch[part] = { ...patch[part], [name]: value };
  }
  const margin = defaults.sheet?.margin_mm;
  if (margin && EDGES.every((edge) => edge in margin)) {
    patch.paper = { ...patch.paper, margin: { ...margin }, marginPreset: "own" };
  }
  return patch;
}

/** Whether a student may change a field. @param {string[]|null} mayChange dotted paths; null: all */
export function mayChangeField(mayChange, path) {
  return mayChange === null || mayChange.some((one) => path === one || path.startsWith(`${one}.`));
}

/**
 * The fields of a spec that a student may change; the service fills in the fixed ones.
 * @param {object} spec
 * @param {{mayChange: string[]|null, defaults: object}|null} classRules
 */
export function changeablePart(spec, classRules) {
  if (!classRules?.mayChange) return spec;
  const left = changeableFields(spec, "", classRules.mayChange);
  // A class without a support leaves it to each student.
  const { width_mm, height_mm } = spec.support;
  return { ...left, support: { width_mm, height_mm, ...classRules.defaults.support, ...left.support } };
}

function changeableFields(spec, above, mayChange) {
  const kept = {};
  for (const [name, value] of Object.entries(spec)) {
    const path = `${above}${name}`;
    const deeper = value !== null && typeof value === "object" && !Array.isArray(value) && name !== "crop";
    if (mayChangeField(mayChange, path)) kept[name] = value;
    else if (deeper) {
      const part = changeableFields(value, `${path}.`, mayChange);
      if (Object.keys(part).length) kept[name] = part;
    }
  }
  return kept;
}

/**
 * Disable a group of controls whose field the tutor has fixed, with a note.
 * @param {object} app
 * @param {string} path of the spec
 * @param {HTMLFieldSetElement} group
 */
export function disableIfFixed(app, path, group) {
  const classRules = app.state.settled;
  if (!classRules?.mayChange || mayChangeField(classRules.mayChange, path)) return group;
  if (classRules.mayChange.some((one) => one.startsWith(`${path}.`))) return group;
  group.disabled = true;
  const note = document.createElement("p");
  note.className = "small settled-note";
  note.textContent = app.t("common.settled-note");
  group.querySelector("legend").after(note);
  return group;
}
