// Who is at this device: the machine's own user, a student, a tutor, or nobody with a key yet.
// The key itself is in a cookie that no script reads; the page only asks whose it is.

import * as classApi from "./classes.js";
import { dropForeign, forgetPacks } from "./offline-cache.js";
import { patchOf } from "../state/class-defaults.js";
import { printerPatch } from "../state/state.js";

/** A service that asks nobody for a key, or that cannot be reached: the steps work as ever. */
const LOCAL = { role: "local", name: "", id: null, keepDays: null, group: null, usage: null };
const NOBODY = { ...LOCAL, role: "none" };
/** The state without anything of a person's; a printer's name may tell whose it is. */
const EMPTY_STATE = {
  photo: null, pack: null, title: "", checklist: null, sheets: { protect: [], ...printerPatch(null).sheets },
};

/** A line over which nothing comes is not waited for longer. */
const TIMEOUT_MS = 3000;

/**
 * Ask the service whose key this device has. Who has signed out without a network is nobody
 * until the service has been told.
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
 * Let the page know who is here: another person finds nothing of the last one's on this
 * device, and a student starts from what their class settles.
 * @param {object} app
 * @param {object} person
 */
export async function applyPerson(app, person) {
  // Without an answer nobody else can be told to be here: what is kept stays, as in a studio.
  if (person === LOCAL) return;
  const before = app.state.personId ?? null;
  const tookOver = before === "local" && person.role === "tutor";
  const changed = person.role !== "none" && person.id !== before;
  // Whoever had a key that opens nothing any more sees nothing any more, here neither.
  if (person.role === "none" && before !== null && before !== "local") await forgetPerson(app);
  if (changed && before !== null && !tookOver) {
    app.update(EMPTY_STATE);
    await forgetPacks();
  }
  // The first tutor has all that was the machine's; another one has nothing of it.
  if (changed && tookOver) await dropForeign();
  if (changed && person.id !== null) app.update({ personId: person.id });
  applyClass(app, person.group);
}

function applyClass(app, group) {
  const classRules = group && { mayChange: group.settings.may_change, defaults: group.settings.defaults, classId: group.id };
  if (JSON.stringify(classRules) === JSON.stringify(app.state.settled ?? null)) return;
  app.update({ ...(classRules ? patchOf(classRules.defaults) : {}), settled: classRules });
}

/** All that this device keeps of a person, forgotten. */
export async function forgetPerson(app) {
  app.update({ ...EMPTY_STATE, personId: null, settled: null });
  await forgetPacks();
}

/**
 * Sign out: all that this device keeps goes at once, also without a network; the cookie, which no
 * script reads, opens nothing as soon as the service can be told.
 */
export async function leave(app) {
  await forgetPerson(app);
  app.update({ leaving: true });
  await reportSignOut(app);
}

/** Go on as who has just signed in or joined; who left before has been signed out by that. */
export async function continueAs(app, step) {
  app.update({ leaving: false });
  await app.switchPerson(step);
}

/** Tell the service of a sign-out that it has not heard of. @returns {Promise<boolean>} none is owed */
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
