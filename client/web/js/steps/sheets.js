// Step 4: the sheets. The current plan over the picture, its controls, and the cost of each
// choice.

import * as api from "../api/service.js";
import { fill, h } from "../lib/dom.js";
import { group } from "../controls/fields.js";
import { hiddenLine, ink, sharpness, warnings } from "../controls/plan-summary.js";
import { gridControls } from "../controls/grid-controls.js";
import { backLink, anchoredRegion, nextLink, screenLayout } from "../controls/screen-layout.js";
import { livePlan } from "../api/live-plan.js";
import { crossedAreas } from "../lib/protected-areas.js";
import { protectedAreaEditor } from "./protect.js";
import { formatControls, seamControls } from "../controls/sheet-controls.js";
import { disableIfFixed } from "../state/class-defaults.js";
import { sheetCosts } from "../controls/choice-costs.js";
import { sheetsView } from "../draw/sheets-view.js";
import { printControls } from "../controls/style-controls.js";
import { fewerSheets } from "../controls/suggestions.js";
import { problemText } from "../lib/words.js";

/** The plan is announced to screen readers when the controls are at rest this long. */
const ANNOUNCE_AFTER_MS = 700;
/** Code of the warning about crossed areas that staggered seams would spare. */
const STAGGERABLE = "staggerable";

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const board = sheetsView(app, { thresholds: (...found) => print.found(...found) });
  const protect = protectedAreaEditor(app, board.board);
  const costs = sheetCosts(app, () => newest && planRegion.draw(drawNotices));
  const seams = seamControls(app, costs);
  const formats = formatControls(app, costs);
  const print = printControls(app);
  const grid = gridControls(app);
  const sum = h("div", { class: "sum" }, h("p", { class: "small", text: t("sheets.working") }));
  const notices = h("div", { class: "notices" });
  const offers = h("div", { class: "notices offers" });
  const planRegion = anchoredRegion({}, sum, notices, offers);
  const facts = h("dl", { class: "facts" });
  const costNote = h("p", { class: "small", text: t("sheets.cost-note") });
  const footCount = h("p", { class: "foot-count" });
  const planner = livePlan({ plan: drawPlan, problem: showProblem });
  let newest = null;
  let saying = 0;
  let announced = "";

  board.areas(protect);
  screenLayout(root, {
    title: t("sheets.title"),
    pictureArea: board.element,
    controls: [
      planRegion.element,
      disableIfFixed(app, "tone", group(t("sheets.print"), print.element)),
      disableIfFixed(app, "print.resolution_ppi", print.fine),
      disableIfFixed(app, "print.mirror", print.mirror),
      disableIfFixed(app, "print.black_only", print.blackOnly),
      disableIfFixed(app, "grid", group(t("squares.title"), grid.element)),
      protect.panel,
      disableIfFixed(app, "seams", group(t("sheets.seams"), costNote, seams.element)),
      board.tape,
      group(t("sheets.compare"), formats.element),
      group(t("sheets.facts"), facts),
    ],
    actions: [backLink(t("step.frame"), "frame"), footCount, nextLink(t("sheets.next"), "pack")],
  });
  const stop = app.subscribe(changedState);
  sync(app.state);
  begin();

  async function begin() {
    planner.ask(app.state);
    costs.ask([]);
    board.load(app.state.photo.previewUrl);
    try {
      formats.load(await api.sheetFormats());
      if (newest) drawPlan(newest);
      costs.ask(formats.names());
    } catch (error) {
      showProblem(error);
    }
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
    board.sync(state);
    protect.sync();
    for (const control of [seams, formats, print, grid]) control.sync(state);
    if (newest) costs.showPlan(newest);
  }

  function drawPlan(plan) {
    newest = plan;
    board.show(plan);
    protect.showPlan(plan);
    const count = { count: plan.sheet_count, format: formats.titleOf(app.state.paper.sheetFormat) };
    planRegion.draw(() => {
      fill(sum,
        h("p", { class: "sum-count" }, h("span", { class: "figure", text: plan.sheet_count }), h("span", { text: t("sheets.count", count) })),
        h("p", { class: "small", text: shape(plan) }));
      drawNotices();
      fill(offers, fewerSheets(app, plan, formats.titleOf));
    });
    fill(footCount, h("span", { class: "figure", text: plan.sheet_count }), t("sheets.short", count));
    costNote.textContent = t(plan.seam_line_mm ? "sheets.cost-note" : "sheets.cost-note-sheets");
    drawFacts(plan);
    grid.showPlan(plan);
    costs.showPlan(plan);
    announceLater(plan);
  }

  function shape(plan) {
    if (plan.sheet_count === 1) return t("sheets.shape-one");
    const rows = t("sheets.rows", { count: plan.rows });
    const says = t(`sheets.shape-${plan.run_through}`, { rows, columns: t("sheets.columns", { count: plan.columns }) });
    return `${says} ${hiddenLine(t, plan, app.state.paper.unit)}`.trim();
  }

  function drawFacts(plan) {
    const fact = (term, { name, says }) => h("div", {},
      h("dt", { text: term }), h("dd", {}, h("strong", { text: name }), " ", says));
    const spots = { name: t("sheets.spots", { count: plan.tape_spots.length }), says: t("sheets.spots-says") };
    fill(facts, fact(t("sheets.sharp.title"), sharpness(t, plan)), fact(t("sheets.ink.title"), ink(t, plan)),
      plan.tape_spots.length > 0 && fact(t("sheets.tape"), spots));
  }

  function drawNotices() {
    const held = notices.contains(document.activeElement);
    fill(notices, warnings(t, newest).map(notice));
    // The new button has the function of the old one, so it gets the focus.
    if (held) notices.querySelector("button, a")?.focus({ preventScroll: true });
  }

  function notice({ code, says, serious }) {
    const spares = code === "protected-area-crossed" && staggeredSpares();
    const sparesEyes = code === "seam-through-eye" && app.state.sheets.placement === "quiet" && otherSparesEyes();
    return h("div", { class: serious ? "notice bad" : "notice" }, h("p", { text: says }),
      spares && h("p", { text: t("sheets.staggered-spares", { sheets: t("sheets.short-count", { count: spares.sheet_count }) }) }), remedy(spares || sparesEyes ? STAGGERABLE : code));
  }

  /** The plan with staggered seams, if it crosses no protected area; else null. */
  function staggeredSpares() {
    const other = costs.planOf("arrangement-staggered");
    return other && crossedAreas(other).length === 0 ? other : null;
  }

  /** Whether staggered seams would run through no eye. */
  function otherSparesEyes() {
    const other = costs.planOf("arrangement-staggered");
    return other !== null && !other.warnings.some((warning) => warning.code === "seam-through-eye");
  }

  /** The button or link that mends the fault of a warning, if there is one. */
  function remedy(code) {
    const button = (text, sheets) => h("button", {
      type: "button", class: "button", on: { click: () => app.update({ sheets }) },
    }, text);
    if (code === STAGGERABLE) return button(t("sheets.stagger"), { arrangement: "staggered" });
    if (code === "much-ink") {
      const { style, fullStrength } = app.state.sheets;
      const full = style === "grey" && fullStrength;
      return full ? button(t("sheets.less-ink"), { fullStrength: false }) : button(t("sheets.lighten-now"), { lighten: 0.3 });
    }
    if (["reference-too-small", "seam-through-eye"].includes(code)) return h("a", { class: "button", href: "#frame" }, t("sheets.to-frame"));
    return null;
  }

  function showProblem(error) {
    newest = null;
    board.show(null);
    for (const place of [footCount, facts]) fill(place);
    const again = h("button", { type: "button", class: "button", on: { click: begin } }, t("sheets.again"));
    planRegion.draw(() => {
      for (const place of [sum, offers]) fill(place);
      fill(notices, h("div", { class: "notice bad" }, h("p", { text: problemText(t, error) }), error.passing && again));
    });
    clearTimeout(saying);
    app.announce(problemText(t, error));
  }

  function announceLater(plan) {
    clearTimeout(saying);
    saying = setTimeout(() => {
      const text = [t("sheets.say", { count: plan.sheet_count }), ...warnings(t, plan).map((one) => one.says)].join(" ");
      if (text !== announced) app.announce(text);
      announced = text;
    }, ANNOUNCE_AFTER_MS);
  }

  return {
    unmount() {
      clearTimeout(saying);
      stop();
      planner.stop();
      costs.stop();
      board.stop();
    },
  };
}
