// The plan while a control is dragged: at most one request is in flight and only the newest one
// waits, so that a slow connection is never flooded and the newest answer wins.

import { reachable } from "./offline-cache.js";
import * as api from "./service.js";
import { specOf } from "../state/state.js";

let last = { key: "", plan: null };

/** The plan of this state, if it is the last one received. @returns {object|null} */
export function lastPlan(state) {
  return state.photo && last.key === requestOf(state).key ? last.plan : null;
}

function requestOf(state) {
  const spec = specOf(state);
  return { referenceId: state.photo.referenceId, spec, key: JSON.stringify([state.photo.referenceId, spec]) };
}

/**
 * Run one request at a time, and then the newest of those that came meanwhile.
 * @param {function(object, AbortSignal): Promise} answer must handle its errors itself
 * @returns {{ask: function(object), isSuperseded: function(): boolean, stop: function}}
 *   `isSuperseded()` is whether a newer request waits
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
 * Request plans. What found no network is asked for again once there is one.
 * @param {{plan: function(object), problem: function(Error), network: function(boolean)}} handlers
 *   `plan` gets the newest plan; `problem` the reason why there is none; `network`, which may be left
 *   out, whether the service can be reached, when the device says that this may have changed
 * @returns {{ask: function(object), stop: function}} call `ask(state)` after each change
 */
export function livePlan(handlers) {
  let answered = "";
  let wanted = null;
  for (const name of ["online", "offline"]) window.addEventListener(name, lookForNetwork);

  const { ask, stop } = newestOnly(async (request, signal) => {
    wanted = request;
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

  async function lookForNetwork() {
    const there = await reachable();
    handlers.network?.(there);
    if (!there || !wanted) return;
    answered = "";
    ask(wanted);
  }

  return {
    ask: (state) => state.photo && ask(requestOf(state)),
    stop() {
      for (const name of ["online", "offline"]) window.removeEventListener(name, lookForNetwork);
      stop();
    },
  };
}
