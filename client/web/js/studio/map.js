// The map of the pieces over the small picture: those that a step is about are lit, the others lie
// under a veil, and what is done is ticked. Drawn from the plan, so that it needs no file but the
// picture that the device keeps.

import { showPicture } from "../api/access.js";
import { fill, h, svg } from "../lib/browser/dom.js";
import { clamp } from "../lib/geometry/crop.js";

/** Beyond so many pieces only those that are lit have room for a label. */
const MOST_LABELS = 48;
/** Size of a label: a share of the shorter side of its piece, within shares of the whole map. */
const OF_PIECE = 0.26;
const OF_MAP = { least: 0.034, most: 0.06 };

/**
 * @param {object} t
 * @param {object} pack
 * @returns {{element: HTMLElement, show: function(object, Set<string>)}} `show(step, done)`
 */
export function studioMap(t, pack) {
  const { plan } = pack;
  const { width_mm: width, height_mm: height } = plan.picture;
  const image = h("img", { alt: "" });
  showPicture(image, pack.files.picture);
  const layer = svg("svg", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": t("pack.map") });
  const box = h("div", { class: "studio-map" }, image, layer);
  box.style.setProperty("--proportion", String(width / height));

  function show(step, done) {
    const lit = new Set(step?.lit ?? []);
    const veiled = lit.size > 0 && lit.size < plan.pieces.length;
    fill(layer,
      plan.pieces.map((piece) => pieceMark(piece, { lit: lit.has(piece.label), veiled })),
      step?.draw && EXTRA[step.draw](plan),
      step?.measure?.scope === "joined" && step.measure.names.map((name) => lengthMark(plan, name)),
      plan.pieces.filter(({ label }) => plan.pieces.length <= MOST_LABELS || lit.has(label))
        .map((piece) => labelMark(piece, plan, { lit: lit.has(piece.label), done: done.has(piece.label) })));
  }

  return { element: h("div", { class: "studio-map-place" }, box), show };
}

function pieceMark({ picture_rect_mm: at }, { lit, veiled }) {
  return svg("rect", {
    class: lit && veiled ? "map-lit" : veiled ? "map-veil" : "map-piece", x: at.left, y: at.top, width: at.width, height: at.height,
  });
}

function labelMark({ label, picture_rect_mm: at }, { picture }, { lit, done }) {
  const map = Math.max(picture.width_mm, picture.height_mm);
  const size = clamp(Math.min(at.width, at.height) * OF_PIECE, map * OF_MAP.least, map * OF_MAP.most);
  const text = done ? `${label} ✓` : label;
  const wide = (text.length * 0.56 + 0.5) * size;
  const [x, y] = [at.left + at.width / 2, at.top + at.height / 2];
  return svg("g", { class: `map-label${lit ? " lit" : ""}${done ? " done" : ""}` },
    svg("rect", { x: x - wide / 2, y: y - size * 0.68, width: wide, height: size * 1.36, rx: size * 0.16 }),
    svg("text", { x, y: y + size * 0.36, "font-size": size, "text-anchor": "middle" }, text));
}

const EXTRA = {
  spots: ({ tape_spots: spots, picture }) => {
    const least = Math.max(picture.width_mm, picture.height_mm) / 60;
    return spots.map(({ rect_mm: { left, top, width, height } }) => {
      const [wide, high] = [Math.max(width, least), Math.max(height, least)];
      return svg("rect", { class: "map-spot", x: left - (wide - width) / 2, y: top - (high - height) / 2, width: wide, height: high });
    });
  },
  seams: ({ seams }) => svg("path", {
    class: "map-seam", d: seams.map(({ from_mm: from, to_mm: to }) => `M${from.join(" ")}L${to.join(" ")}`).join(""),
  }),
  flap: ({ picture }) => svg("path", { class: "map-flap", d: `M0 0H${picture.width_mm}` }),
};

/** The line along which a length is measured. */
function lengthMark({ picture: { width_mm: right, height_mm: bottom } }, name) {
  const [x1, y1, x2, y2] = {
    width: [0, bottom, right, bottom], height: [0, 0, 0, bottom], diagonal: [0, 0, right, bottom], "other diagonal": [0, bottom, right, 0],
  }[name];
  return svg("line", { class: "map-length", x1, y1, x2, y2 });
}
