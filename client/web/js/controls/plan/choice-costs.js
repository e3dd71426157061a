// What each choice makes of this picture, shown on the choice itself: for seams a small drawing of
// the plan, and sheets and line that tape would hide. That of the current choice comes from the
// live plan, those of the others from plan variants.

import { fill, h, svg } from "../../lib/browser/dom.js";
import { lineLength } from "./summary.js";
import { variants } from "../../api/plan-variants.js";

/** The choices about seams, with their values. */
export const SEAM_CHOICES = {
  placement: ["quiet", "even"], arrangement: ["aligned", "staggered"], joint: ["butt", "lap"],
};

/**
 * @param {object} app
 * @param {function()} onVariant called when the plan of another choice has come
 * @returns {{label: function(string, string): Node, drawnLabel: function(string, string): Node, ask: function(Array<string>),
 *   showPlan: function(object), planOf: function(string): (object|null), stop: function}}
 *   `label(name, text)` has the cost under the text, with its room reserved until it is known;
 *   names are `placement-quiet` … and `format-` before a format's name
 */
export function sheetCosts(app, onVariant) {
  const { t } = app;
  const places = new Map();
  const drawings = new Map();
  const plans = new Map();
  const others = variants((name, plan) => {
    plans.set(name, plan);
    write(name, plan);
    onVariant();
  });

  function write(name, plan) {
    const place = places.get(name);
    if (!place) return;
    const drawing = drawings.get(name);
    if (drawing) fill(drawing, plan && planDrawing(plan));
    if (!plan) fill(place, t("sheets.cannot"));
    else if (name.startsWith("format-")) fill(place, h("span", { class: "figure", text: plan.sheet_count }), " ", t("sheets.short", { count: plan.sheet_count }));
    else fill(place, seamCost(plan));
  }

  function seamCost(plan) {
    const count = t("common.sheets", { count: plan.sheet_count });
    if (!plan.seam_line_mm) return count;
    return `${count} · ${lineLength(t, plan.seam_line_mm.chosen, app.state.paper.unit)}`;
  }

  return {
    label(name, text) {
      const cost = h("span", { class: "cost" }, "\u00a0");
      places.set(name, cost);
      return h("span", { class: "costed" }, h("span", { text }), cost);
    },
    /** The same with a drawing of its plan above. */
    drawnLabel(name, text) {
      const drawing = h("span", { class: "plan-drawing", "aria-hidden": "true" });
      drawings.set(name, drawing);
      return h("span", { class: "drawn-choice" }, drawing, this.label(name, text));
    },
    /** Show the cost of the current choices. */
    showPlan(plan) {
      const { sheets, paper } = app.state;
      for (const part of Object.keys(SEAM_CHOICES)) write(`${part}-${sheets[part]}`, plan);
      write(`format-${paper.sheetFormat}`, plan);
    },
    /** The plan of another choice; null while it is unknown, and if it is impossible. */
    planOf: (name) => plans.get(name) ?? null,
    /** Request the plans of the other choices. @param {string[]} formats names of the formats compared */
    ask(formats) {
      const { sheets, paper } = app.state;
      const seams = Object.entries(SEAM_CHOICES).flatMap(([part, values]) => values
        .filter((value) => value !== sheets[part])
        .map((value) => [`${part}-${value}`, { sheets: { [part]: value } }]));
      const sizes = formats.filter((name) => name !== paper.sheetFormat)
        .map((name) => [`format-${name}`, { paper: { sheetFormat: name } }]);
      plans.clear();
      others.ask(app.state, [...seams, ...sizes]);
    },
    stop: others.stop,
  };
}

/** A plan in small: the picture's outline and its seams. @param {object} plan as the service gives it @returns {SVGElement} */
function planDrawing({ picture, pieces, seams }) {
  const { width_mm: width, height_mm: height } = picture;
  const laps = pieces.flatMap(({ picture_rect_mm: { left, top, width: wide, height: high }, lap_right_mm: across, lap_bottom_mm: down }) => [
    across > 0 && { x: left + wide - across, y: top, width: across, height: high },
    down > 0 && { x: left, y: top + high - down, width: wide, height: down },
  ]).filter(Boolean);
  const d = seams.map(({ from_mm: from, to_mm: to }) => `M${from.join(" ")}L${to.join(" ")}`).join("");
  return svg("svg", { viewBox: `0 0 ${width} ${height}` },
    svg("rect", { class: "drawing-leaf", width, height }),
    laps.map((lap) => svg("rect", { class: "drawing-lap", ...lap })),
    svg("path", { class: "drawing-seams", d }));
}
