// The person who uses this device: the local user, a student, a tutor, or nobody with a key. The
// key is in a cookie that no script can read; the page asks the service who it belongs to.

import * as classApi from "./classes.js";
import { dropForeign, forgetPacks } from "./offline-cache.js";
import { patchOf } from "../state/class-defaults.js";
import { printerPatch } from "../state/state.js";

/** The service needs no key, or cannot be reached: all steps work. */
const LOCAL = { role: "local", name: "", id: null, keepDays: null, group: null, usage: null };
const NOBODY = { ...LOCAL, role: "none" };
/** The change of the state that removes personal data; a printer's name may be personal too. */
const EMPTY_STATE = {
  photo: null, faces: null, facesAnswered: [], pack: null, title: "", checklist: null, pictures: {}, deleting: [], squares: { of: "", done: {}, at: "" }, sheets: { protect: [], ...printerPatch(null).sheets },
};

/** A silent connection is not waited for longer. */
const TIMEOUT_MS = 3000;

/**
 * Ask the service whose key this device has. A person who has signed out without a network counts
 * as nobody until the service knows of it.
 * @param {object} app
 * @returns {Promise<object>}
 */
export async function fetchPerson(app) {
  if (!(await reportSignOut(app))) return NOBODY;
  try {
    const answer = await Promise.race([classApi.me(), timeout()]);
    const { person, class: group = null, usage = null, keep_days: keepDays } = answer;
    return { role: person.role, name: person.name, id: person.id, keepDays, group, usage };
  } catch (error) {
    return error.status === 401 ? NOBODY : LOCAL;
  }
}

function timeout() {
  return new Promise((_, reject) => {
    setTimeout(() => reject(new Error("silent")), TIMEOUT_MS);
  });
}

/**
 * Apply a change of person to the state: the data of the last person is removed from this
 * device, and a student starts from the class's defaults.
 * @param {object} app
 * @param {object} person
 */
export async function applyPerson(app, person) {
  // Without an answer no change of person can be known, so all data stays.
  if (person === LOCAL) return;
  const before = app.state.personId ?? null;
  const tookOver = before === "local" && person.role === "tutor";
  const changed = person.role !== "none" && person.id !== before;
  // A person whose key was withdrawn has no access to the data on this device either.
  if (person.role === "none" && before !== null && before !== "local") await forgetPerson(app);
  if (changed && before !== null && !tookOver) {
    app.update(EMPTY_STATE);
    await forgetPacks();
  }
  // The first tutor takes over the local user's packs; another tutor has no access to them.
  if (changed && tookOver) await dropForeign();
  if (changed && person.id !== null) app.update({ personId: person.id });
  applyClass(app, person.group);
}

function applyClass(app, group) {
  const classRules = group && { mayChange: group.settings.may_change, defaults: group.settings.defaults, classId: group.id };
  if (JSON.stringify(classRules) === JSON.stringify(app.state.settled ?? null)) return;
  app.update({ ...(classRules ? patchOf(classRules.defaults) : {}), settled: classRules });
}

/** Remove everything that this device stores of a person. */
export async function forgetPerson(app) {
  app.update({ ...EMPTY_STATE, personId: null, settled: null });
  await forgetPacks();
}

/**
 * Sign out: everything on this device is removed at once, also without a network. The cookie,
 * which no script can read, becomes invalid as soon as the service can be reached.
 */
export async function leave(app) {
  // Nobody may delete it for them later.
  await Promise.race([app.deletions.flush(), timeout()]).catch(() => {});
  await forgetPerson(app);
  app.update({ leaving: true });
  await reportSignOut(app);
}

/** Continue as the person who has just signed in or joined, which ends an earlier sign-out. */
export async function continueAs(app, step) {
  app.update({ leaving: false });
  await app.switchPerson(step);
}

/** Report a sign-out that the service does not know of. @returns {Promise<boolean>} nothing is left to report */
export async function reportSignOut(app) {
  if (!app.state.leaving) return true;
  try {
    await Promise.race([classApi.signOut(), timeout()]);
    app.update({ leaving: false });
    return true;
  } catch {
    return false;
  }
}
