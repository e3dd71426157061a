// What comes of the choices, in words first: sheets, what tape hides, sharpness; below them the one
// thing to mend first; figures and everything else on demand.

import { fill, h } from "../../lib/browser/dom.js";
import { crossedAreas } from "../../lib/geometry/protected-areas.js";
import { problemText } from "../../lib/texts/words.js";
import { hiddenGrade, hiddenLine, ink, sharpness, warnings } from "./summary.js";

/** The plan is announced to screen readers when the controls are at rest this long. */
const ANNOUNCE_AFTER_MS = 700;
/** Code of the warning about crossed areas that staggered seams would spare. */
const STAGGERABLE = "staggerable";
/** What is mended first, if there are several. */
const FIRST = ["protected-area-crossed", "seam-through-eye", "reference-too-small", "reference-blurred"];

/**
 * @param {object} app
 * @param {{costs: object, formatOf: function(): string, again: function}} how `costs` has the plans of
 *   other choices; `again` asks for the plan once more
 * @returns {{element: HTMLElement, show: function(object), problem: function(Error), stop: function}}
 */
export function planOutcome(app, { costs, formatOf, again }) {
  const { t } = app;
  const line = h("span", { class: "outcome-line" }, t("sheets.working"));
  const word = h("span", { class: "outcome-word" }, "\u00a0");
  const figures = h("div", { class: "outcome-figures" });
  const element = h("details", { class: "outcome-sum" },
    h("summary", {}, h("span", { class: "outcome-head" }, line, word)), figures);
  let saying = 0;
  let announced = "";

  function show(plan) {
    const held = figures.contains(document.activeElement);
    const all = warnings(t, plan).sort((one, other) => rank(one) - rank(other));
    line.textContent = `${plan.sheet_count} ${t("sheets.count", { count: plan.sheet_count, format: formatOf() })}`;
    word.textContent = all[0]?.says ?? inWords(plan);
    word.classList.toggle("wrong", Boolean(all[0]?.serious));
    element.classList.toggle("has-warning", all.length > 0);
    fill(figures, all.length > 0 && h("div", { class: "notices" }, all.map(notice)), facts(plan));
    // The new button has the function of the old one, so it gets the focus.
    if (held) figures.querySelector("button, a")?.focus({ preventScroll: true });
    announceLater(plan, all);
  }

  const rank = ({ code }) => (FIRST.includes(code) ? FIRST.indexOf(code) : FIRST.length);

  function inWords(plan) {
    const grade = hiddenGrade(plan);
    return [grade && t(`sheets.hides-${grade}`), sharpness(t, plan).short].filter(Boolean).join(" · ");
  }

  function shape(plan) {
    if (plan.sheet_count === 1) return t("sheets.shape-one");
    const rows = t("sheets.rows", { count: plan.rows });
    return t(`sheets.shape-${plan.run_through}`, { rows, columns: t("sheets.columns", { count: plan.columns }) });
  }

  function facts(plan) {
    const fact = (term, name, says) => h("div", {}, h("dt", { text: term }), h("dd", {}, h("strong", { text: name }), " ", says));
    const hidden = hiddenLine(t, plan, app.state.paper.unit);
    const [sharp, inked] = [sharpness(t, plan), ink(t, plan)];
    const spots = plan.tape_spots.length;
    return h("dl", { class: "facts" },
      fact(t("sheets.title"), shape(plan), ""),
      hidden && fact(t("sheets.tape"), spots > 0 ? t("sheets.spots", { count: spots }) : "", hidden),
      fact(t("sheets.sharp.title"), sharp.name, sharp.says), fact(t("sheets.ink.title"), inked.name, inked.says));
  }

  function notice({ code, says, serious }) {
    const spares = code === "protected-area-crossed" && staggeredSpares();
    const sparesEyes = code === "seam-through-eye" && app.state.sheets.placement === "quiet" && otherSparesEyes();
    return h("div", { class: serious ? "notice bad" : "notice" }, h("p", { text: says }),
      spares && h("p", { text: t("sheets.staggered-spares", { sheets: t("common.sheets", { count: spares.sheet_count }) }) }),
      remedy(spares || sparesEyes ? STAGGERABLE : code));
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

  function problem(error) {
    const text = problemText(t, error);
    line.textContent = t("sheets.none");
    word.textContent = text;
    word.classList.add("wrong");
    fill(figures, h("div", { class: "notice bad" }, h("p", { text }),
      error.passing && h("button", { type: "button", class: "button", on: { click: again } }, t("sheets.again"))));
    element.open = true;
    clearTimeout(saying);
    app.announce(text);
  }

  function announceLater(plan, all) {
    clearTimeout(saying);
    saying = setTimeout(() => {
      const text = [t("sheets.say", { count: plan.sheet_count }), ...all.map((one) => one.says)].join(" ");
      if (text !== announced) app.announce(text);
      announced = text;
    }, ANNOUNCE_AFTER_MS);
  }

  return { element, show, problem, stop: () => clearTimeout(saying) };
}
