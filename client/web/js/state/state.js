// The state of the page, stored on this device, so that a phone that sleeps or a page that was
// closed comes back unchanged. Screens read it, change it through `update`, and subscribe to
// changes; they share nothing else.

import { transferredAreas } from "../lib/geometry/protected-areas.js";
import { clamp, largestFrame, MOST_TURN_DEG, resolveFrame } from "../lib/geometry/crop.js";
import { defaultFrame } from "../lib/geometry/heads.js";
import { LEAST_SIDE_MM } from "../lib/paper/supports.js";
import { nearestLanguage } from "../lib/texts/words.js";
import { changeablePart } from "./class-defaults.js";
import { freshId } from "./picture-id.js";

const KEY = "ricalco.state.1";
const SAVE_AFTER_MS = 250;
/** Parts that are merged field by field; every other part is replaced. */
const MERGED = new Set(["paper", "frame", "sheets", "checklist", "squares"]);

/** The change of the state for another photo: the frame and the protected areas are reset. A frame
 * without a centre is where it cuts no head (lib/geometry/heads.js). */
export const FRAME_RESET = { frame: { cx: null, cy: null, width: 1, rotateDeg: 0 }, sheets: { protect: [] } };

/** How sheets are printed, unless somebody says otherwise. */
export function freshSheets() {
  return {
    placement: "quiet", arrangement: "aligned", joint: "butt", lapMm: 8, registerMarks: true, protect: [], protectFrame: null,
    lighten: 0, lift: 0, contrast: 0, style: "grey", fullStrength: false, mirror: false, blackOnly: false, ppi: 200,
    lineMm: 0.35, detail: 0.5, shortestMm: 2.5, shadows: "none",
    tones: 5, thresholds: null, smallestMm: 2,
    gridMm: null, gridDiagonals: false, gridLineMm: 0.18,
    acrossCorrection: 1, downCorrection: 1, printer: "", printerId: null,
  };
}

/**
 * The initial state.
 * @param {string} locale as `en-US`
 * @param {string[]} [languages] that there are texts in
 */
export function freshState(locale, languages = []) {
  const inches = /^en-US|^en-CA$/.test(locale);
  return {
    photo: null,
    // Where faces are in the photo of the id `of`; null until the service has said so.
    faces: null,
    // Photos for which the offer to protect faces was taken or declined.
    facesAnswered: [],
    paper: {
      widthMm: inches ? 609.6 : 600,
      heightMm: inches ? 457.2 : 400,
      borderMm: 0,
      tone: "light",
      medium: "other",
      unit: inches ? "in" : "cm",
      // Whether it has the photo's own proportion, with the longer side as it is.
      asPhoto: false,
      // Whether the person has said how it lies; else it is turned like each photo.
      own: false,
      sheetFormat: inches ? "na_letter_8.5x11in" : "iso_a4_210x297mm",
      margin: { top: 5, right: 5, bottom: 5, left: 5 },
      marginPreset: "tight",
    },
    frame: FRAME_RESET.frame,
    // The farthest step that was opened with this photo, by its place in the row.
    reached: 0,
    sheets: freshSheets(),
    view: null,
    title: "",
    pack: null,
    // The last step before the studio that was open with this photo.
    step: "photo",
    // The picture that photo to step belong to, and the others: state/pictures.js.
    pictureId: null,
    begunAt: null,
    pictures: {},
    // What is deleted in a moment: api/deletions.js.
    deleting: [],
    // By pack: ticks, measured lengths as typed, and the step that is shown.
    checklist: {},
    leftHanded: false,
    // Drawing by squares: side, look, the grid `of` which squares are drawn, and the one shown.
    squares: { mm: null, look: "colour", of: "", done: {}, at: "" },
    personId: null,
    leaving: false,
    // Stored on devices under this name: what the class fixes, {mayChange, defaults, classId}.
    settled: null,
    language: nearestLanguage(languages, locale),
    theme: "auto",
  };
}

/**
 * The store.
 * @param {Storage|null} storage Null, or a full or forbidden one, stores nothing.
 * @param {string} locale
 * @param {string} [key] Name in the storage.
 * @param {string[]} [languages] that there are texts in
 */
export function createStore(storage, locale, key = KEY, languages = []) {
  let state = withStored(freshState(locale, languages), storage, key);
  const listeners = new Set();
  let timer = 0;

  function save() {
    clearTimeout(timer);
    timer = 0;
    try {
      storage?.setItem(key, JSON.stringify(state));
    } catch {
      // Private windows and full devices store nothing; the page works without.
    }
  }

  return {
    get state() {
      return state;
    },
    /** Change parts: `update({frame: {cx: 0.4}})`. @param {Object} patch */
    update(patch) {
      const before = state;
      state = merged(state, patch);
      if (!timer) timer = setTimeout(save, SAVE_AFTER_MS);
      for (const listener of [...listeners]) listener(state, before);
    },
    /** Call `listener(state, before)` after every change. @returns {function} unsubscribes */
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    save,
  };
}

function merged(state, patch) {
  const next = { ...state };
  for (const [part, value] of Object.entries(patch)) {
    // null empties a part that is otherwise merged.
    if (MERGED.has(part)) next[part] = value === null ? {} : { ...state[part], ...value };
    else next[part] = value;
  }
  // Faces go with their photo.
  if (next.photo === null) next.faces = null;
  // A picture begins with its photo, or with a pack that was made elsewhere.
  if ((next.photo || next.pack) && !next.pictureId) {
    next.pictureId = freshId();
    next.begunAt = Date.now();
  }
  if (!next.photo && !next.pack) Object.assign(next, { pictureId: null, begunAt: null, step: "photo" });
  if (patch.paper || "photo" in patch) next.paper = paperLike(next, patch.paper);
  // Areas are stored with the frame on which they were drawn.
  if (patch.sheets?.protect && !patch.sheets.protectFrame) {
    next.sheets.protectFrame = next.photo ? frameOf(next) : null;
  }
  return next;
}

/** The paper of the photo's own proportion, if that is wanted: two sides from elsewhere end that. */
function paperLike({ paper, photo }, { widthMm, heightMm, asPhoto } = {}) {
  if (!paper.asPhoto || !photo) return paper;
  if (widthMm && heightMm && !asPhoto) return { ...paper, asPhoto: false };
  return { ...paper, ...sidesLike(photo, Math.max(paper.widthMm, paper.heightMm), paper.borderMm) };
}

/** Sides in whole mm, the longer one given, whose picture within the border has a photo's proportion. */
function sidesLike({ widthPx, heightPx }, longestMm, borderMm) {
  const rim = 2 * borderMm;
  const share = Math.min(widthPx, heightPx) / Math.max(widthPx, heightPx);
  const shortMm = Math.max(Math.round((longestMm - rim) * share) + rim, rim + LEAST_SIDE_MM);
  const mostMm = Math.min(shortMm, longestMm);
  return widthPx >= heightPx ? { widthMm: longestMm, heightMm: mostMm } : { widthMm: mostMm, heightMm: longestMm };
}

function withStored(fresh, storage, key) {
  try {
    const stored = JSON.parse(storage?.getItem(key) ?? "null");
    return stored && typeof stored === "object" ? merged(fresh, stored) : fresh;
  } catch {
    return fresh;
  }
}

/** A key of the current job: another key means another pack. @returns {string} */
export function jobKey(state) {
  return state.photo ? JSON.stringify([state.photo.referenceId, specOf(state), state.title]) : "";
}

/** Whether the pack of the state was made from the photo that is there now, or there is no photo. */
export function ofThisPhoto({ photo, pack }) {
  if (!pack) return false;
  return !photo || [photo.referenceId, photo.original?.referenceId].includes(pack.referenceId);
}

/** Width and height of the picture in mm: the support without its border. */
export function pictureOf(state) {
  const { widthMm, heightMm, borderMm } = state.paper;
  return { widthMm: widthMm - 2 * borderMm, heightMm: heightMm - 2 * borderMm };
}

/** Width ÷ height of the picture. */
export function proportionOf(state) {
  const picture = pictureOf(state);
  return picture.widthMm / picture.heightMm;
}

/**
 * The frame, limited to the picture's proportion and to the photo. @returns {{cx, cy, width, height, rotateDeg}} in shares of the reference
 */
export function frameOf(state) {
  const { photo, frame } = state;
  const proportion = proportionOf(state);
  if (frame.cx !== null) return resolveFrame(frame, photo, proportion);
  const rotateDeg = clamp(frame.rotateDeg, -MOST_TURN_DEG, MOST_TURN_DEG);
  const faces = state.faces && state.faces.of === photo.referenceId ? state.faces.found : [];
  return resolveFrame(defaultFrame(photo, proportion, rotateDeg, faces), photo, proportion);
}

/** The largest frame in this photo at this rotation. */
export function largestFrameOf(state) {
  return largestFrame(state.photo, proportionOf(state), state.frame.rotateDeg);
}

/**
 * The protected areas on the picture of the current frame.
 * @returns {Array<{left, top, width, height}>} in shares of the picture
 */
export function protectOf(state) {
  const { protect, protectFrame } = state.sheets;
  const frame = frameOf(state);
  if (!protectFrame || JSON.stringify(protectFrame) === JSON.stringify(frame)) return protect;
  return transferredAreas(protect, protectFrame, frame, state.photo);
}

/** The spec of the API (README.md, "The service"), of a state that has a photo, without the fields
 * that the class fixes: the service sets those. */
export function specOf(state) {
  const { paper, sheets } = state;
  const frame = frameOf(state);
  return changeablePart({
    support: {
      width_mm: paper.widthMm, height_mm: paper.heightMm, border_mm: paper.borderMm, tone: paper.tone,
      medium: paper.medium,
    },
    crop: cropOf(frame),
    rotate_deg: frame.rotateDeg,
    tone: toneOf(sheets),
    sheet: { format: paper.sheetFormat, margin_mm: paper.margin },
    seams: {
      joint: sheets.joint,
      lap_mm: sheets.joint === "lap" ? sheets.lapMm : 0,
      arrangement: sheets.arrangement,
      placement: sheets.placement,
      protect: protectOf(state),
      register_marks: sheets.registerMarks,
    },
    print: {
      resolution_ppi: sheets.ppi,
      mirror: sheets.mirror,
      black_only: sheets.blackOnly,
      across_correction: sheets.acrossCorrection,
      down_correction: sheets.downCorrection,
      ...(sheets.printer ? { printer: sheets.printer } : {}),
    },
    grid: sheets.gridMm === null ? null : {
      square_mm: sheets.gridMm, diagonals: sheets.gridDiagonals, line_mm: sheets.gridLineMm,
    },
  }, state.settled);
}

export const STYLES = ["grey", "colour", "outline", "mixed", "values"];
/** Whether a style has outlines. */
export const isLined = ({ style }) => style === "outline" || style === "mixed";

/** Whether darks are lifted: lines and flat tones are found in the photo as it is. */
export const isLifted = ({ style, lift }) => lift > 0 && style !== "outline" && style !== "values";

/** The tone of a spec with the fields of its style only: a line weight does not change a grey pack. */
function toneOf(sheets) {
  const { style, fullStrength, lighten, lift, contrast, lineMm, detail, shortestMm, shadows, tones, thresholds, smallestMm } = sheets;
  return {
    style, lighten, contrast,
    ...(style === "grey" ? { full_strength: fullStrength } : {}),
    ...(isLifted(sheets) ? { lift } : {}),
    ...(isLined(sheets) ? { outline: { line_mm: lineMm, detail, shortest_mm: shortestMm, shadows } } : {}),
    ...(style === "values" ? { values: { count: tones, thresholds, smallest_mm: smallestMm } } : {}),
  };
}

/** A frame as the API's crop: left, top, width and height before it is turned. */
export function cropOf(frame) {
  const crop = {
    left: frame.cx - frame.width / 2, top: frame.cy - frame.height / 2,
    width: frame.width, height: frame.height,
  };
  if (frame.rotateDeg !== 0) return crop;
  // Rounding may exceed the edge; the API accepts shares from 0 to 1.
  const left = Math.max(crop.left, 0);
  const top = Math.max(crop.top, 0);
  return { left, top, width: Math.min(crop.width, 1 - left), height: Math.min(crop.height, 1 - top) };
}

/**
 * The change of the state that selects a printer: corrections, margins and name. Without a
 * printer nothing is corrected, and the margins stay.
 * @param {object|null} printer
 * @returns {object} a change of the state
 */
export function printerPatch(printer) {
  if (!printer) return { sheets: { acrossCorrection: 1, downCorrection: 1, printer: "", printerId: null } };
  const margin = printer.margin_mm;
  return {
    sheets: {
      acrossCorrection: printer.across_correction, downCorrection: printer.down_correction,
      printer: printer.name, printerId: printer.id,
    },
    paper: { sheetFormat: printer.format, ...(margin ? { margin: { ...margin }, marginPreset: "own" } : {}) },
  };
}
