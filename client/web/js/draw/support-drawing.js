// The drawing of the paper step, to scale: the support with its border and dimension lines as on
// the printed map, the photo faint in the picture, and one sheet of the printer.

import { showPicture } from "../api/access.js";
import { fill, h, svg } from "../lib/browser/dom.js";
import { fitted, imageTransform } from "../lib/geometry/crop.js";
import { frameOf, pictureOf } from "../state/state.js";
import { writeLengthUnit } from "../lib/texts/units.js";

/** Room for the dimension lines, in px. */
const RIM_PX = 42;
const TICK_PX = 5;

/**
 * @param {object} t
 * @returns {{element: HTMLElement, show: function(object, object|null), unmount: function}}
 *   `show(state, sheet)`, with the sheet {width_mm, height_mm, title} or null
 */
export function supportDrawing(t) {
  const element = h("div", { class: "easel support-easel" });
  // One for all drawings: without a network it could not be loaded again.
  const photo = svg("image", { class: "support-photo", width: 100, preserveAspectRatio: "none" });
  let shown = null;
  const watch = new ResizeObserver(() => shown && draw(...shown));
  watch.observe(element);

  function draw(state, sheet) {
    const { widthMm, heightMm } = state.paper;
    element.style.setProperty("--proportion", widthMm / heightMm);
    const box = { width: element.clientWidth, height: element.clientHeight };
    if (!box.width) return;
    const at = fitted(box, widthMm / heightMm, RIM_PX);
    const pxPerMm = at.width / widthMm;
    fill(element, svg("svg", { viewBox: `0 0 ${box.width} ${box.height}`, role: "img", "aria-label": described(t, state) },
      svg("rect", { class: `support-leaf tone-${state.paper.tone}`, x: at.left, y: at.top, width: at.width, height: at.height }),
      picturePart(state, at, pxPerMm, photo),
      sheet && sheetPart(sheet, at, pxPerMm),
      dimensions(t, state.paper, at)));
  }

  return {
    element,
    show(...what) {
      shown = what;
      draw(...what);
    },
    unmount: () => watch.disconnect(),
  };
}

function described(t, { paper }) {
  const length = (mm) => writeLengthUnit(mm, paper.unit, t.language);
  return t("paper.drawing", { width: length(paper.widthMm), height: length(paper.heightMm), border: length(paper.borderMm) });
}

function picturePart(state, at, pxPerMm, photo) {
  const picture = pictureOf(state);
  const rim = state.paper.borderMm * pxPerMm;
  const window = {
    left: at.left + rim, top: at.top + rim, width: picture.widthMm * pxPerMm, height: picture.heightMm * pxPerMm,
  };
  const edge = { x: window.left, y: window.top, width: window.width, height: window.height };
  return [
    state.photo && svg("clipPath", { id: "support-window" }, svg("rect", edge)),
    state.photo && svg("g", { "clip-path": "url(#support-window)" }, placed(photo, state, window)),
    svg("rect", { class: "support-picture", ...edge }),
  ];
}

function placed(photo, state, window) {
  photo.setAttribute("height", (100 * state.photo.heightPx) / state.photo.widthPx);
  photo.setAttribute("transform", imageTransform(frameOf(state), state.photo, { width: 100 }, window));
  if (photo.dataset.of !== state.photo.previewUrl) {
    photo.dataset.of = state.photo.previewUrl;
    showPicture(photo, state.photo.previewUrl, "href");
  }
  return photo;
}

/** One sheet to the same scale, upright, at the lower left corner of the support. */
function sheetPart(sheet, at, pxPerMm) {
  const size = { width: sheet.width_mm * pxPerMm, height: sheet.height_mm * pxPerMm };
  const top = at.top + at.height - size.height;
  return [
    svg("rect", { class: "support-sheet", x: at.left, y: top, ...size }),
    svg("text", { class: "support-sheet-name", x: at.left + size.width / 2, y: top + size.height / 2 + 7 }, sheet.title),
  ];
}

function dimensions(t, paper, at) {
  const words = [paper.widthMm, paper.heightMm].map((mm) => writeLengthUnit(mm, paper.unit, t.language));
  const y = at.top - 14;
  const x = at.left - 14;
  return svg("g", { class: "dimension" },
    line(at.left, y, at.left + at.width, y), tick(at.left, y), tick(at.left + at.width, y),
    line(x, at.top, x, at.top + at.height), tick(x, at.top), tick(x, at.top + at.height),
    svg("text", { x: at.left + at.width / 2, y: y - 8 }, words[0]),
    svg("text", { transform: `translate(${x - 8} ${at.top + at.height / 2}) rotate(-90)` }, words[1]));
}

function line(x1, y1, x2, y2) {
  return svg("line", { x1, y1, x2, y2 });
}

function tick(x, y) {
  return line(x - TICK_PX, y + TICK_PX, x + TICK_PX, y - TICK_PX);
}
