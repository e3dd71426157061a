// Plans of the same job with one choice different. They are requested one after the other when
// the controls are at rest, so that they never delay the live plan.

import * as api from "./service.js";
import { specOf } from "../state/state.js";

/** The controls are at rest after this time without a change. */
const REST_MS = 350;
/** Plans are cached, so that going back and forth requests nothing twice. */
const CACHE_SIZE = 60;

const cache = new Map();

function remember(key, plan) {
  cache.set(key, plan);
  if (cache.size > CACHE_SIZE) cache.delete(cache.keys().next().value);
}

/**
 * A state with one choice different.
 * @param {object} state
 * @param {{sheets?: object, paper?: object}} patch
 */
function changed(state, patch) {
  return {
    ...state,
    sheets: { ...state.sheets, ...patch.sheets },
    paper: { ...state.paper, ...patch.paper },
  };
}

/**
 * Plans of variants.
 * @param {function(string, object|null)} onPlan called with each variant's name and plan; null
 *   if the variant is impossible
 * @returns {{ask: function(object, Array<[string, object]>), stop: function}}
 *   `ask(state, [[name, patch], …])` drops the requests that wait
 */
export function variants(onPlan) {
  let timer = 0;
  let stopping = new AbortController();

  async function run(state, wanted, signal) {
    for (const [name, patch] of wanted) {
      const other = changed(state, patch);
      const spec = specOf(other);
      const key = JSON.stringify([other.photo.referenceId, spec]);
      if (!cache.has(key)) {
        try {
          remember(key, await api.plan(other.photo.referenceId, spec, signal));
        } catch (error) {
          if (error.name === "AbortError") return;
          // An impossible variant is no error; only a passing fault is tried again.
          if (error.passing) return;
          remember(key, null);
        }
      }
      if (signal.aborted) return;
      onPlan(name, cache.get(key));
    }
  }

  function stop() {
    clearTimeout(timer);
    stopping.abort();
  }

  return {
    ask(state, wanted) {
      stop();
      stopping = new AbortController();
      const { signal } = stopping;
      timer = setTimeout(() => run(state, wanted, signal), REST_MS);
    },
    stop,
  };
}
