// The drawing of the printer's screen: the test page to scale, with its two bars and the staircase
// at each edge; what is being read off it is lit.

import { fill, h, svg } from "../lib/browser/dom.js";
import { fitted } from "../lib/geometry/crop.js";
import { EDGES } from "../lib/paper/margins.js";
import { writeLengthUnit } from "../lib/texts/units.js";

/** Around the page, in px. */
const RIM_PX = 16;
/** Where the page has things, as worker/pages/calibration has them: in mm from its edges. */
const BAR_FROM_EDGE_MM = 31;
const BAR_FROM_TOP_MM = 30;
const TICK_MM = 4;
const STEPS = 20;
const STEP_WIDE_MM = 3;
/** Lines of text, in shares of the page: left, top, width. */
const TEXT = [[0.08, 0.13, 0.5], [0.08, 0.19, 0.62], [0.08, 0.22, 0.66], [0.08, 0.25, 0.6], [0.08, 0.31, 0.66], [0.08, 0.34, 0.4]];

/**
 * @param {object} t
 * @returns {{element: HTMLElement, show: function(object), unmount: function}} `show` takes the `sheet`
 *   ({name, title, width_mm, height_mm}), its `bars` ({across, down} in mm), the `unit`, what is `lit`
 *   ("bars", "edges" or null), and the lengths `measured` ({across, down} in mm, or null)
 */
export function testPageDrawing(t) {
  const element = h("div", { class: "easel" });
  let shown = null;
  const watch = new ResizeObserver(draw);
  watch.observe(element);

  function draw() {
    const box = { width: element.clientWidth, height: element.clientHeight };
    if (!shown || !box.width) return;
    const { sheet, lit } = shown;
    const at = fitted(box, sheet.width_mm / sheet.height_mm, RIM_PX);
    const px = at.width / sheet.width_mm;
    fill(element, svg("svg", { viewBox: `0 0 ${box.width} ${box.height}`, role: "img", "aria-label": t("printer.drawing", { format: sheet.title }) },
      svg("g", { transform: `translate(${at.left} ${at.top})` },
        svg("rect", { class: "test-leaf", width: at.width, height: at.height }),
        svg("g", { class: "test-text" }, TEXT.map(([x, y, width]) => svg("rect", {
          x: x * at.width, y: y * at.height, width: width * at.width, height: Math.max(1, 1.4 * px),
        }))),
        svg("g", { class: lit === "edges" ? "test-edges lit" : "test-edges" }, EDGES.map((edge) => stairs(edge, sheet, px))),
        svg("g", { class: lit === "bars" ? "test-bars lit" : "test-bars" }, across(px), down(px)))));
  }

  function length(way) {
    const mm = shown.measured[way] ?? shown.bars[way];
    return writeLengthUnit(mm, shown.unit, t.language);
  }

  function across(px) {
    const { sheet, bars } = shown;
    const [x, y] = [((sheet.width_mm - bars.across) / 2) * px, (sheet.height_mm - BAR_FROM_EDGE_MM) * px];
    return [bar(x, y, bars.across * px, TICK_MM * px, true),
      svg("text", { x: x + (bars.across * px) / 2, y: y - 8 }, length("across"))];
  }

  function down(px) {
    const { sheet, bars } = shown;
    const top = Math.min(BAR_FROM_TOP_MM, (sheet.height_mm - bars.down) / 2);
    const [x, y] = [(sheet.width_mm - BAR_FROM_EDGE_MM) * px, top * px];
    return [bar(x, y, bars.down * px, TICK_MM * px, false),
      svg("text", { transform: `translate(${x - 8} ${y + (bars.down * px) / 2}) rotate(-90)` }, length("down"))];
  }

  return {
    element,
    show(what) {
      shown = what;
      draw();
    },
    unmount: () => watch.disconnect(),
  };
}

function bar(x, y, long, tick, flat) {
  const line = (along, beside, along2, beside2) => (flat
    ? { x1: x + along, y1: y + beside, x2: x + along2, y2: y + beside2 }
    : { x1: x + beside, y1: y + along, x2: x + beside2, y2: y + along2 });
  return [line(0, 0, long, 0), line(0, -tick, 0, tick), line(long, -tick, long, tick)].map((one) => svg("line", one));
}

/** Steps of a millimetre each, from an edge inwards. */
function stairs(edge, { width_mm: width, height_mm: height }, px) {
  const flat = edge === "top" || edge === "bottom";
  const from = ((flat ? width : height) - STEPS * STEP_WIDE_MM) / 2;
  return Array.from({ length: STEPS }, (_, step) => {
    const along = (from + step * STEP_WIDE_MM) * px;
    const far = edge === "top" || edge === "left" ? step : (flat ? height : width) - step - 1;
    const [wide, deep] = [STEP_WIDE_MM * px * 0.85, px];
    return svg("rect", flat ? { x: along, y: far * px, width: wide, height: deep } : { x: far * px, y: along, width: deep, height: wide });
  });
}
