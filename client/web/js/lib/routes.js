// Addresses of the page: what follows # as a screen and what it shows. A QR code on a board
// holds such an address, so it is read with care.

export const STEPS = ["photo", "paper", "frame", "sheets", "pack", "studio"];
/** Screens of their own that belong to a step. */
export const PART_OF = { square: "frame", printer: "paper" };
/** Steps that mean nothing before there is a photo. */
export const NEED_PHOTO = new Set(["frame", "square", "sheets"]);
/** Screens for whoever has no key yet. */
const OPEN = new Set(["join", "sign-in"]);
const OWN = new Set([...OPEN, "me", "teach", "classes"]);
/** A class's screens by what stands behind its id, each a module. */
const IN_CLASS = {
  "": "class-board", code: "class-code", roster: "class-roster", packs: "class-packs", settings: "class-settings",
};
const ID = /^[\w-]+$/;

/**
 * The screen of an address.
 * @param {string} hash as `#join=AB12-CD34`, `#class/cls_…/roster`
 * @returns {{name: string, module: string, id: string|null, view: string}} `module` without `.js`
 */
export function routeOf(hash) {
  const [name, id = "", view = ""] = hash.slice(1).split(/[/=]/);
  if (name === "class" && ID.test(id) && view in IN_CLASS) return { name, module: IN_CLASS[view], id, view };
  if (name === "batch" && ID.test(id)) return { name, module: "batch", id, view };
  if (name === "join") return { name, module: name, id: readCode(id), view };
  if (OWN.has(name) || STEPS.includes(name) || Object.hasOwn(PART_OF, name)) return { name, module: name, id: null, view };
  return { name: "photo", module: "photo", id: null, view: "" };
}

function readCode(written) {
  try {
    return decodeURIComponent(written);
  } catch {
    return "";
  }
}

/**
 * Where this person is led instead, if the screen is not for them.
 * @param {{name: string}} route
 * @param {{role: string}} person `role` is `none` where the service asks for a key
 * @param {boolean} hasPhoto
 * @returns {string|null} the name of another screen
 */
export function ledTo({ name }, { role }, hasPhoto) {
  if (role === "none") return OPEN.has(name) ? null : "join";
  if (NEED_PHOTO.has(name) && !hasPhoto) return "photo";
  if (["classes", "class", "batch"].includes(name) && role !== "tutor") return role === "local" ? "teach" : "photo";
  if (name === "teach" && role !== "local") return role === "tutor" ? "classes" : "photo";
  return null;
}
