// Who is at this device: the machine's own user, a student, a tutor, or nobody with a key yet.
// The key itself is in a cookie that no script reads; the page only asks whose it is.

import * as classApi from "./classes.js";
import { dropForeign, forgetPacks } from "./offline-cache.js";
import { patchOf } from "../state/class-defaults.js";
import { takenUp } from "../state/state.js";

/** A service that asks nobody for a key, or that cannot be reached: the steps work as ever. */
const LOCAL = { role: "local", name: "", id: null, keepDays: null, group: null, usage: null };
const NOBODY = { ...LOCAL, role: "none" };
/** The state without anything of a person's; a printer's name may tell whose it is. */
const NOTHING_KEPT = {
  photo: null, pack: null, title: "", checklist: null, sheets: { protect: [], ...takenUp(null).sheets },
};

/** A line over which nothing comes is not waited for longer. */
const PATIENCE_MS = 3000;

/**
 * Ask the service whose key this device has. Who has signed out without a network is nobody
 * until the service has been told.
 * @param {object} app
 * @returns {Promise<object>}
 */
export async function askWho(app) {
  if (!(await toldLeaving(app))) return NOBODY;
  try {
    const answer = await Promise.race([classApi.me(), silence()]);
    const { person, class: group = null, usage = null, keep_days: keepDays } = answer;
    return { role: person.role, name: person.name, id: person.id, keepDays, group, usage };
  } catch (error) {
    return error.status === 401 ? NOBODY : LOCAL;
  }
}

function silence() {
  return new Promise((_, reject) => {
    setTimeout(() => reject(new Error("silent")), PATIENCE_MS);
  });
}

/**
 * Let the page know who is here: another person finds nothing of the last one's on this
 * device, and a student starts from what their class settles.
 * @param {object} app
 * @param {object} person
 */
export async function settleIn(app, person) {
  // Without an answer nobody else can be told to be here: what is kept stays, as in a studio.
  if (person === LOCAL) return;
  const before = app.state.personId ?? null;
  const tookOver = before === "local" && person.role === "tutor";
  const changed = person.role !== "none" && person.id !== before;
  // Whoever had a key that opens nothing any more sees nothing any more, here neither.
  if (person.role === "none" && before !== null && before !== "local") await forgetHere(app);
  if (changed && before !== null && !tookOver) {
    app.update(NOTHING_KEPT);
    await forgetPacks();
  }
  // The first tutor has all that was the machine's; another one has nothing of it.
  if (changed && tookOver) await dropForeign();
  if (changed && person.id !== null) app.update({ personId: person.id });
  settle(app, person.group);
}

function settle(app, group) {
  const settled = group && { mayChange: group.settings.may_change, defaults: group.settings.defaults, classId: group.id };
  if (JSON.stringify(settled) === JSON.stringify(app.state.settled ?? null)) return;
  app.update({ ...(settled ? patchOf(settled.defaults) : {}), settled });
}

/** All that this device keeps of a person, forgotten. */
export async function forgetHere(app) {
  app.update({ ...NOTHING_KEPT, personId: null, settled: null });
  await forgetPacks();
}

/**
 * Sign out: all that this device keeps goes at once, also without a network; the cookie, which no
 * script reads, opens nothing as soon as the service can be told.
 */
export async function leave(app) {
  await forgetHere(app);
  app.update({ leaving: true });
  await toldLeaving(app);
}

/** Go on as who has just signed in or joined; who left before has been signed out by that. */
export async function arrive(app, step) {
  app.update({ leaving: false });
  await app.becomes(step);
}

/** Tell the service of a sign-out that it has not heard of. @returns {Promise<boolean>} none is owed */
export async function toldLeaving(app) {
  if (!app.state.leaving) return true;
  try {
    await Promise.race([classApi.signOut(), silence()]);
    app.update({ leaving: false });
    return true;
  } catch {
    return false;
  }
}
