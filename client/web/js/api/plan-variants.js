// What another choice would change: plans of the same job with one thing different, asked for
// when the person rests, one after the other, so that they never hold up the live plan.

import * as api from "./service.js";
import { specOf } from "../state/state.js";

/** A rest this long means that no finger moves. */
const REST_MS = 350;
/** Plans are remembered so that going back and forth asks nothing twice. */
const CACHE_SIZE = 60;

const cache = new Map();

function remember(key, plan) {
  cache.set(key, plan);
  if (cache.size > CACHE_SIZE) cache.delete(cache.keys().next().value);
}

/**
 * A state with one thing different.
 * @param {object} state
 * @param {{sheets?: object, paper?: object}} patch
 */
export function changed(state, patch) {
  return {
    ...state,
    sheets: { ...state.sheets, ...patch.sheets },
    paper: { ...state.paper, ...patch.paper },
  };
}

/**
 * Plans of variants.
 * @param {function(string, object|null)} hear told each variant's name and its plan; null
 *   where it cannot be done
 * @returns {{ask: function(object, Array<[string, object]>), stop: function}}
 *   `ask(state, [[name, patch], …])` starts afresh
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
          // A variant that cannot be is no fault of the person's; only what passes is asked again.
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
