// Step 2: the paper. The support to scale with the photo on it and a sheet of the printer, and the
// number of sheets. The choices are stored, since a studio's paper seldom changes.

import * as api from "../../api/service.js";
import { fill, h } from "../../lib/browser/dom.js";
import { bench, lineIcon } from "../../controls/screen/bench.js";
import { group } from "../../controls/fields.js";
import { backLink, nextLink } from "../../controls/screen/layout.js";
import { lastPlan, livePlan } from "../../api/live-plan.js";
import { printerControls } from "./printer.js";
import { sizeControls } from "./size.js";
import { borderControls, surfaceControls } from "./surface.js";
import { printerChoice } from "../../printers/printer-choice.js";
import { disableIfFixed } from "../../state/class-defaults.js";
import { supportDrawing } from "../../draw/support-drawing.js";
import { problemText } from "../../lib/texts/words.js";

/** Why the service may refuse a size. */
const SIZE_PROBLEMS = new Set(["too-many-sheets", "picture-too-small"]);

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const drawing = supportDrawing(t);
  const size = sizeControls(app, showTrouble);
  const border = borderControls(app);
  const printer = printerControls(app);
  const profile = printerChoice(app);
  const outcome = h("p", { class: "outcome", role: "status" });
  const planner = livePlan({ plan: showPlan, problem: showProblem, network: (is) => (is ? back() : showProblem({ code: "offline" })) });
  let formats = [];

  const tool = (id, path, icon, ...controls) => {
    const panel = group(t(`paper.tool-${id}`), controls);
    return { id, name: t(`paper.tool-${id}`), icon, panel: path ? disableIfFixed(app, path, panel) : panel };
  };
  const tools = bench(root, {
    title: t("paper.title"), pictureArea: drawing.element, sum: outcome, toolsName: t("view.tools"),
    tools: [
      tool("size", "support", lineIcon("M5 8h15v12H5Z", "M5 4.5h15", "M5 3v3", "M20 3v3"), size.element,
        app.state.photo && h("p", {}, h("a", { href: "#squares" }, t("paper.by-squares")))),
      tool("printer", null, lineIcon("M7 9V3h10v6", "M7 17H4V9h16v8h-3", "M7 14h10v7H7Z"),
        disableIfFixed(app, "sheet", group(t("paper.printer"), printer.element)), profile.element),
      tool("border", "support", lineIcon("M4 4h16v16H4Z", "M7.5 7.5h9v9h-9Z"), border.element),
      tool("surface", "support", lineIcon("M5 3h10l4 4v14H5Z", "M15 3v4h4", "M8 17c3-5 4 1 8-5"), surfaceControls(app)),
    ],
    first: "size",
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
      size.load(supports);
      printer.load(found);
      redraw(app.state);
      showPlan();
    } catch (error) {
      showProblem(error);
    }
  }

  /** Stop the step to the next screen while a length is invalid, and show which. */
  function onlyRight(event) {
    if (size.wrong()) tools.open("size");
    else if (border.element.querySelector('[aria-invalid="true"]')) tools.open("border");
    else if (printer.element.some((one) => one.querySelector('[aria-invalid="true"]'))) tools.open("printer");
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

  /** What comes of the paper; while a size is wrong, that alone is said. */
  function showPlan(plan = lastPlan(app.state)) {
    if (size.wrong()) return;
    outcome.classList.remove("wrong");
    if (!plan) fill(outcome);
    else {
      fill(outcome, h("span", { class: "figure", text: plan.sheet_count }),
        h("span", { text: t("paper.sheets", { count: plan.sheet_count, format: sheetOf(app.state)?.title ?? "" }) }));
    }
  }

  function showProblem(error) {
    const text = problemText(t, error);
    if (error.code === "offline") tell(t("sheets.offline"), false);
    else if (SIZE_PROBLEMS.has(error.code)) size.refuse(text);
    else tell(text);
  }

  function showTrouble(text) {
    drawing.element.classList.toggle("doubtful", text !== "");
    if (text) tell(text);
    else showPlan();
  }

  function tell(text, wrong = true) {
    outcome.classList.toggle("wrong", wrong);
    fill(outcome, text);
  }

  /** The network is back: what it kept from loading is loaded, and said again. */
  function back() {
    if (formats.length === 0) load();
    showPlan();
  }

  return {
    unmount() {
      stop();
      planner.stop();
      drawing.unmount();
      border.unmount();
      printer.unmount();
    },
  };
}
