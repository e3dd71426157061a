// Step 4: the sheets. The picture as it is printed, with the current plan over it; under it the
// tools, each with a panel of its own, and in a line what comes of it.

import * as api from "../api/service.js";
import { bench, lineIcon } from "../controls/screen/bench.js";
import { sheetCosts } from "../controls/plan/choice-costs.js";
import { formatControls, seamControls } from "../controls/choices/sheets.js";
import { gridControls } from "../controls/choices/grid.js";
import { planOutcome } from "../controls/plan/outcome.js";
import { backLink, nextLink } from "../controls/screen/layout.js";
import { printControls } from "../controls/choices/style.js";
import { stylePictures } from "../draw/style-pictures.js";
import { fewerSheets } from "../controls/plan/suggestions.js";
import { sheetsView } from "../draw/sheets-view.js";
import { fill, h } from "../lib/browser/dom.js";
import { livePlan } from "../api/live-plan.js";
import { disableIfFixed } from "../state/class-defaults.js";
import { isLined } from "../state/state.js";
import { protectedAreaEditor } from "./protect.js";

const ICONS = {
  style: ["M4 5h7v14H4Z", "M13 5h7v14h-7Z", "M13 15l3-4 4 5"],
  settings: ["M4 7h9", "M17 7h3", "M4 17h3", "M11 17h9", "M15 4.5v5", "M9 14.5v5"],
  protect: ["M4 8V4h4", "M16 4h4v4", "M20 16v4h-4", "M8 20H4v-4", "M8 12c2-3 6-3 8 0-2 3-6 3-8 0Z"],
  seams: ["M3 5h18v14H3Z", "M9 5v14", "M9 12h12", "M15 12v7"],
  formats: ["M4 3h8v11H4Z", "M9 8h11v13H9Z"],
  more: ["M5 12h.01", "M12 12h.01", "M19 12h.01"],
};

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const pictures = stylePictures(app);
  const view = sheetsView(app, {
    thresholds: (...found) => print.found(...found), drawing: () => protect.drawing(),
    loaded: (image) => pictures.load(image), busy: (is) => pictures.hold(is),
  });
  const protect = protectedAreaEditor(app, view.board, {
    open: () => layout.open("protect"), rest: () => layout.focus("protect"),
  });
  const costs = sheetCosts(app, () => newest && outcome.show(newest));
  const seams = seamControls(app, costs);
  const formats = formatControls(app, costs);
  const print = printControls(app, pictures);
  const grid = gridControls(app);
  const outcome = planOutcome(app, { costs, formatOf: () => formats.titleOf(app.state.paper.sheetFormat), again: begin });
  const offers = h("div", { class: "notices offers" });
  const planner = livePlan({ plan: drawPlan, problem: showProblem });
  let newest = null;

  view.areas(protect);
  view.over(protect.offer);
  const part = (title, ...children) => h("fieldset", { class: "panel-part" }, h("legend", { class: "unseen", text: title }), children);
  const tool = (id, name, panel, opened) => ({ id, name, icon: lineIcon(...ICONS[id]), panel, opened });
  const layout = bench(root, {
    title: t("sheets.title"),
    pictureArea: view.element,
    sum: outcome.element,
    toolsName: t("view.tools"),
    tools: [
      tool("style", t("tool.style"), disableIfFixed(app, "tone", part(t("style.title"), print.styles)), (is) => pictures.use(is)),
      tool("settings", settingsName(), disableIfFixed(app, "tone", print.settings)),
      tool("protect", t("tool.protect"), protect.panel, protect.draw),
      tool("seams", t("tool.seams"), disableIfFixed(app, "seams", part(t("sheets.seams"), seams.element))),
      tool("formats", t("tool.formats"), part(t("sheets.compare"), formats.element, offers)),
      tool("more", t("tool.more"), h("div", { class: "panel-part" },
        disableIfFixed(app, "grid", part(t("squares.title"), grid.element)),
        view.labels, view.tape,
        disableIfFixed(app, "print.resolution_ppi", print.fine),
        disableIfFixed(app, "print.black_only", print.blackOnly),
        disableIfFixed(app, "print.mirror", print.mirror))),
    ],
    first: "style",
    actions: [backLink(t("step.frame"), "frame"), nextLink(t("sheets.next"), "pack")],
  });
  const stop = app.subscribe(changedState);
  sync(app.state);
  begin();

  async function begin() {
    planner.ask(app.state);
    costs.ask([]);
    view.load(app.state.photo.previewUrl);
    try {
      formats.load(await api.sheetFormats());
      if (newest) drawPlan(newest);
      costs.ask(formats.names());
    } catch (error) {
      showProblem(error);
    }
  }

  function settingsName() {
    const { sheets } = app.state;
    return t(isLined(sheets) ? "tool.lines" : sheets.style === "values" ? "tool.tones" : "tool.light");
  }

  function changedState(state, before) {
    const same = state.sheets === before.sheets && state.paper === before.paper && state.frame === before.frame
      && state.faces === before.faces && state.view === before.view;
    if (same || !state.photo) return;
    sync(state);
    planner.ask(state);
    costs.ask(formats.names());
  }

  function sync(state) {
    view.sync(state);
    protect.sync();
    for (const control of [seams, formats, print, grid]) control.sync(state);
    layout.name("settings", settingsName());
    pictures.ask(state);
    if (newest) costs.showPlan(newest);
  }

  function drawPlan(plan) {
    newest = plan;
    view.show(plan);
    protect.showPlan(plan);
    outcome.show(plan);
    fill(offers, fewerSheets(app, plan, formats.titleOf));
    grid.showPlan(plan);
    costs.showPlan(plan);
  }

  function showProblem(error) {
    newest = null;
    view.show(null);
    fill(offers);
    outcome.problem(error);
  }

  return {
    unmount() {
      stop();
      for (const one of [outcome, planner, costs, view, pictures]) one.stop();
    },
  };
}
