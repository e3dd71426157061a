// Step 2: the paper. Support and printer, with a drawing to scale and the number of sheets. The
// choices are stored, since a studio's paper seldom changes.

import * as api from "../api/service.js";
import { fill, h } from "../lib/dom.js";
import { group } from "../controls/fields.js";
import { backLink, nextLink, screenLayout } from "../controls/screen-layout.js";
import { livePlan } from "../api/live-plan.js";
import { printerControls } from "./paper-printer.js";
import { drawnControls, supportControls } from "./paper-support.js";
import { printerChoice } from "../printers/printer-choice.js";
import { disableIfFixed } from "../state/class-defaults.js";
import { supportDrawing } from "../draw/support-drawing.js";
import { problemText } from "../lib/words.js";

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const drawing = supportDrawing(t);
  const support = supportControls(app);
  const drawn = drawnControls(app);
  const printer = printerControls(app);
  const profile = printerChoice(app);
  const outcome = h("p", { class: "outcome", role: "status" });
  const planner = livePlan({ plan: setPlan, problem: showProblem });
  let formats = [];
  let plan = null;

  screenLayout(root, {
    title: t("paper.title"), lead: t("paper.lead"), pictureArea: drawing.element,
    controls: [
      disableIfFixed(app, "support", group(t("paper.support"), support.element)),
      disableIfFixed(app, "support", group(t("paper.drawn"), drawn.element)),
      disableIfFixed(app, "sheet", group(t("paper.printer"), printer.element, outcome)),
      group(t("printer.profile"), profile.element),
      app.state.photo && h("p", {}, h("a", { href: "#squares" }, t("bysquares.entry"))),
    ],
    actions: [backLink(t("step.photo"), "photo"),
      nextLink(...(app.state.photo ? [t("paper.next"), "frame"] : [t("paper.first"), "photo"]), { on: { click: onlyRight } })],
  });
  redraw(app.state);
  const stop = app.subscribe((state, before) => (state.paper !== before.paper || state.faces !== before.faces) && redraw(state));
  load();
  profile.load();

  async function load() {
    try {
      const [supports, found] = await Promise.all([api.supports(), api.sheetFormats()]);
      formats = found;
      support.load(supports);
      printer.load(found);
      redraw(app.state);
      if (plan) showPlan();
    } catch (error) {
      showProblem(error);
    }
  }

  /** Stop the step to the next screen while a length is invalid. */
  function onlyRight(event) {
    const wrong = root.querySelector('[aria-invalid="true"]');
    if (!wrong) return;
    event.preventDefault();
    wrong.focus();
  }

  function sheetOf(state) {
    return formats.find((one) => one.name === state.paper.sheetFormat) ?? null;
  }

  function redraw(state) {
    drawing.show(state, sheetOf(state));
    planner.ask(state);
  }

  function setPlan(found) {
    plan = found;
    showPlan();
  }

  function showPlan() {
    outcome.classList.remove("wrong");
    fill(outcome, h("span", { class: "figure", text: plan.sheet_count }),
      h("span", { text: t("paper.sheets", { count: plan.sheet_count, format: sheetOf(app.state)?.title ?? "" }) }));
  }

  function showProblem(error) {
    outcome.classList.add("wrong");
    fill(outcome, problemText(t, error));
  }

  return {
    unmount() {
      stop();
      planner.stop();
      drawing.unmount();
      drawn.unmount();
      printer.unmount();
    },
  };
}
