// The plan while a finger moves: at most one question is on its way and only the newest one
// waits, so that a slow line is never flooded and the newest answer always wins.

import * as api from "./service.js";
import { specOf } from "../state/state.js";

let last = { asked: "", plan: null };

/** The plan of this state, if it is the last that was answered. @returns {object|null} */
export function lastPlan(state) {
  return state.photo && last.asked === questionOf(state).asked ? last.plan : null;
}

function questionOf(state) {
  const spec = specOf(state);
  return { referenceId: state.photo.referenceId, spec, asked: JSON.stringify([state.photo.referenceId, spec]) };
}

/**
 * One question at a time, and after it only the newest of those that came meanwhile.
 * @param {function(object, AbortSignal): Promise} answer never fails; it tells by itself
 * @returns {{ask: function(object), waits: function(): boolean, stop: function}}
 *   `waits()` is whether a newer question has come
 */
export function newestOnly(answer) {
  const stopping = new AbortController();
  let underWay = false;
  let waiting = null;

  async function run(question) {
    underWay = true;
    await answer(question, stopping.signal);
    underWay = false;
    const next = waiting;
    waiting = null;
    if (next && !stopping.signal.aborted) run(next);
  }

  return {
    ask(question) {
      if (underWay) waiting = question;
      else run(question);
    },
    waits: () => waiting !== null,
    stop: () => stopping.abort(),
  };
}

/**
 * Ask for plans.
 * @param {{plan: function(object), problem: function(Error)}} hear `plan` gets the newest
 *   plan; `problem` why there is none.
 * @returns {{ask: function(object), stop: function}} `ask(state)` whenever something changed
 */
export function livePlan(hear) {
  let heard = "";

  const { ask, stop } = newestOnly(async (question, signal) => {
    const tell = (say) => {
      if (signal.aborted) return;
      heard = question.asked;
      say();
    };
    if (question.asked === heard) return;
    if (question.asked === last.asked) {
      tell(() => hear.plan(last.plan));
      return;
    }
    try {
      const plan = await api.plan(question.referenceId, question.spec, signal);
      last = { asked: question.asked, plan };
      tell(() => hear.plan(plan));
    } catch (error) {
      if (error.name !== "AbortError") tell(() => hear.problem(error));
    }
  });

  return { ask: (state) => state.photo && ask(questionOf(state)), stop };
}
