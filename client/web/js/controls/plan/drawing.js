// A plan in small: the picture's outline and its seams, as an icon of what a choice makes of it.

import { svg } from "../../lib/dom.js";

/** @param {object} plan as the service gives it @returns {SVGElement} */
export function planDrawing({ picture, pieces, seams }) {
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
