// The plan while a finger moves: at most one question is on its way and only the newest one
// waits, so that a slow line is never flooded and the newest answer always wins.

import * as api from "./api.js";
import { specOf } from "./state.js";

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
 * Ask for plans.
 * @param {{plan: function(object), problem: function(Error)}} hear `plan` gets the newest
 *   plan; `problem` why there is none.
 * @returns {{ask: function(object), stop: function}} `ask(state)` whenever something changed
 */
export function livePlan(hear) {
  const stopping = new AbortController();
  let underWay = false;
  let waiting = null;
  let heard = "";

  async function run(question) {
    underWay = true;
    try {
      const plan = await api.plan(question.referenceId, question.spec, stopping.signal);
      last = { asked: question.asked, plan };
      tell(question, () => hear.plan(plan));
    } catch (error) {
      if (error.name !== "AbortError") tell(question, () => hear.problem(error));
    }
    underWay = false;
    const next = waiting;
    waiting = null;
    if (next && !stopping.signal.aborted) run(next);
  }

  function tell(question, say) {
    if (stopping.signal.aborted) return;
    heard = question.asked;
    say();
  }

  return {
    ask(state) {
      if (!state.photo) return;
      const question = questionOf(state);
      if (underWay) waiting = question;
      else if (question.asked === heard) return;
      else if (question.asked === last.asked) tell(question, () => hear.plan(last.plan));
      else run(question);
    },
    stop: () => stopping.abort(),
  };
}
