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
/** Modules of a class's screens, by the part of the address after its id. */
const IN_CLASS = {
  "": "classes/board/board", code: "classes/board/code", roster: "classes/roster/roster", packs: "classes/packs",
  settings: "classes/settings/settings",
};
/** The module of each other screen, below js and without its ending. */
const MODULES = {
  photo: "steps/photo", paper: "steps/paper", frame: "steps/frame", sheets: "steps/sheets", pack: "steps/pack",
  studio: "studio/studio", square: "steps/square-up", squares: "squares/squares", printer: "printers/printer", join: "people/join",
  shelf: "shelf/shelf", "sign-in": "people/sign-in", "new-key": "people/new-key", me: "people/me", teach: "people/first-tutor", classes: "classes/classes",
};
const ID = /^[\w-]+$/;

/**
 * The screen of an address.
 * @param {string} hash as `#join=AB12-CD34`, `#class/cls_…/roster`
 * @returns {{name: string, module: string, id: string|null, view: string}} `module` below js, without `.js`
 */
export function routeOf(hash) {
  const [name, id = "", view = ""] = hash.slice(1).split(/[/=]/);
  if (name === "class" && ID.test(id) && view in IN_CLASS) return { name, module: IN_CLASS[view], id, view };
  if (name === "batch" && ID.test(id)) return { name, module: "classes/batch/batch", id, view };
  if (name === "new-key") return { name, module: MODULES[name], id, view };
  if (name === "join") return { name, module: MODULES.join, id: readCode(id), view };
  if (OWN.has(name) || STEPS.includes(name) || Object.hasOwn(PARENT_STEP, name)) return { name, module: MODULES[name], id: null, view };
  return { name: "photo", module: MODULES.photo, id: null, view: "" };
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
