// Addresses of the page: from the part after # to a screen. A QR code on a board holds such an
// address, so any text must be accepted.

export const STEPS = ["photo", "paper", "frame", "sheets", "pack", "studio"];
/** The step that another screen belongs to. */
export const PARENT_STEP = { square: "frame", squares: "frame", printer: "paper" };
/** Screens that need a photo. */
export const NEED_PHOTO = new Set(["frame", "square", "squares", "sheets"]);
/** Screens for a person without a key. */
const OPEN = new Set(["join", "sign-in", "new-key"]);
const OWN = new Set([...OPEN, "shelf", "me", "teach", "classes"]);
/** Screens of a class, by the part of the address after its id. */
const IN_CLASS = {
  "": { module: "classes/board/board", words: ["people", "classes"], styles: ["people-and-classes"] },
  code: { module: "classes/board/code", words: ["people", "classes"], styles: ["people-and-classes"] },
  roster: { module: "classes/roster/roster", words: ["people", "classes"], styles: ["people-and-classes"] },
  packs: { module: "classes/packs", words: ["people", "classes", "paper", "sheets"], styles: ["people-and-classes"] },
  settings: { module: "classes/settings/settings", words: ["people", "classes", "paper", "sheets"], styles: ["people-and-classes"] },
};
const BATCH = { module: "classes/batch/batch", words: ["people", "classes"], styles: ["people-and-classes"] };
/**
 * Each other screen: its module, below js and without its ending; the subjects of texts and the
 * style sheets that it needs beside those of the page.
 */
const SCREENS = {
  photo: { module: "steps/photo", words: [], styles: [] },
  paper: { module: "steps/paper/paper", words: ["paper", "sheets"], styles: ["bench", "paper-and-frame", "drawing-aids"] },
  frame: { module: "steps/frame", words: ["frame", "sheets"], styles: ["bench", "paper-and-frame", "drawing-aids"] },
  square: { module: "steps/square-up", words: ["frame", "paper"], styles: ["bench", "drawing-aids"] },
  sheets: { module: "steps/sheets", words: ["sheets"], styles: ["bench", "sheets", "drawing-aids"] },
  pack: { module: "steps/pack/pack", words: ["pack", "paper", "sheets"], styles: ["sheets", "studio", "squares", "pack", "drawing-aids"] },
  studio: { module: "studio/studio", words: ["studio", "pack", "paper", "sheets"], styles: ["studio", "drawing-aids"] },
  squares: { module: "squares/squares", words: ["by-squares", "sheets"], styles: ["bench", "studio", "squares", "drawing-aids"] },
  printer: { module: "printers/printer", words: ["paper", "pack", "sheets"], styles: ["bench", "studio", "pack", "drawing-aids"] },
  shelf: { module: "shelf/shelf", words: ["shelf", "studio", "pack"], styles: ["shelf"] },
  join: { module: "people/join", words: ["people"], styles: ["people-and-classes"] },
  "sign-in": { module: "people/sign-in", words: ["people"], styles: ["people-and-classes"] },
  "new-key": { module: "people/new-key", words: ["people"], styles: ["people-and-classes"] },
  me: { module: "people/me", words: ["people"], styles: ["people-and-classes"] },
  teach: { module: "people/first-tutor", words: ["people"], styles: ["people-and-classes"] },
  classes: { module: "classes/classes", words: ["people", "classes"], styles: ["people-and-classes"] },
};
const ID = /^[\w-]+$/;

/**
 * The screen of an address.
 * @param {string} hash as `#join=AB12-CD34`, `#class/cls_…/roster`
 * @returns {{name: string, module: string, words: string[], styles: string[], id: string|null, view: string}}
 */
export function routeOf(hash) {
  const [name, id = "", view = ""] = hash.slice(1).split(/[/=]/);
  if (name === "class" && ID.test(id) && view in IN_CLASS) return { name, ...IN_CLASS[view], id, view };
  if (name === "batch" && ID.test(id)) return { name, ...BATCH, id, view };
  if (name === "new-key") return { name, ...SCREENS[name], id, view };
  if (name === "join") return { name, ...SCREENS.join, id: readCode(id), view };
  if (OWN.has(name) || STEPS.includes(name) || Object.hasOwn(PARENT_STEP, name)) return { name, ...SCREENS[name], id: null, view };
  return { name: "photo", ...SCREENS.photo, id: null, view: "" };
}

function readCode(written) {
  try {
    return decodeURIComponent(written);
  } catch {
    return "";
  }
}

/**
 * The screen that a person is redirected to, if the one of the address is not for them.
 * @param {{name: string}} route
 * @param {{role: string}} person `role` is `none` where the service asks for a key
 * @param {boolean} hasPhoto
 * @returns {string|null} the name of the other screen; null: no redirect
 */
export function redirectFor({ name }, { role }, hasPhoto) {
  if (role === "none") return OPEN.has(name) ? null : "join";
  if (NEED_PHOTO.has(name) && !hasPhoto) return "photo";
  if (["classes", "class", "batch"].includes(name) && role !== "tutor") return role === "local" ? "teach" : "photo";
  if (name === "teach" && role !== "local") return role === "tutor" ? "classes" : "photo";
  return null;
}
