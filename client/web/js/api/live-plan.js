// The plan while a finger moves: at most one question is on its way and only the newest one
// waits, so that a slow line is never flooded and the newest answer always wins.

import * as api from "./service.js";
import { specOf } from "../state/state.js";

let last = { key: "", plan: null };

/** The plan of this state, if it is the last that was answered. @returns {object|null} */
export function lastPlan(state) {
  return state.photo && last.key === requestOf(state).key ? last.plan : null;
}

function requestOf(state) {
  const spec = specOf(state);
  return { referenceId: state.photo.referenceId, spec, key: JSON.stringify([state.photo.referenceId, spec]) };
}

/**
 * One question at a time, and after it only the newest of those that came meanwhile.
 * @param {function(object, AbortSignal): Promise} answer never fails; it tells by itself
 * @returns {{ask: function(object), waits: function(): boolean, stop: function}}
 *   `waits()` is whether a newer question has come
 */
export function newestOnly(answer) {
  const stopping = new AbortController();
  let running = false;
  let waiting = null;

  async function run(request) {
    running = true;
    await answer(request, stopping.signal);
    running = false;
    const next = waiting;
    waiting = null;
    if (next && !stopping.signal.aborted) run(next);
  }

  return {
    ask(request) {
      if (running) waiting = request;
      else run(request);
    },
    isSuperseded: () => waiting !== null,
    stop: () => stopping.abort(),
  };
}

/**
 * Ask for plans.
 * @param {{plan: function(object), problem: function(Error)}} hear `plan` gets the newest
 *   plan; `problem` why there is none.
 * @returns {{ask: function(object), stop: function}} `ask(state)` whenever something changed
 */
export function livePlan(handlers) {
  let answered = "";

  const { ask, stop } = newestOnly(async (request, signal) => {
    const deliver = (callback) => {
      if (signal.aborted) return;
      answered = request.key;
      callback();
    };
    if (request.key === answered) return;
    if (request.key === last.key) {
      deliver(() => handlers.plan(last.plan));
      return;
    }
    try {
      const plan = await api.plan(request.referenceId, request.spec, signal);
      last = { key: request.key, plan };
      deliver(() => handlers.plan(plan));
    } catch (error) {
      if (error.name !== "AbortError") deliver(() => handlers.problem(error));
    }
  });

  return { ask: (state) => state.photo && ask(requestOf(state)), stop };
}
