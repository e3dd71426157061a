// The picture with layers: the photo or the picture in the tones of the print, the plan and the
// grid over it, and the protected areas on top. Its size follows from the picture's proportion
// before anything has loaded, so that nothing moves later.

import { showPicture } from "../../api/access.js";
import { fill, h, svg } from "../../lib/browser/dom.js";
import { drawPicture, lightening } from "../print-tones.js";
import { gridLayer } from "./grid-layer.js";
import { labelLayer, planLayer } from "./overlay.js";
import { isDrawn } from "../../api/print-preview.js";
import { cropOf, frameOf, proportionOf } from "../../state/state.js";

/** The tones of the photo, without a change for the print. */
const AS_PHOTO = { style: "colour", lighten: 0, contrast: 0 };
/** The tones of the print; until the service's picture has come, a faint photo for lines, and greys
 * for flat tones. */
const asPrinted = (sheets) => ({
  style: sheets.style === "colour" ? "colour" : "grey", lighten: lightening(sheets), contrast: sheets.contrast,
});

/** A wider canvas shows no more: the small photo has 1,600 pixels. */
const MOST_CANVAS_PX = 1600;

/**
 * @param {object} app
 * @param {string} name Accessible name.
 * @param {function()} [resized] Called when the size has changed.
 * @returns {{element, board: SVGElement, areas: function({layer, resize, zoom}),
 *   show: function(object|null), picture: function(object, string), options: function(object),
 *   load: function(string), print: function(HTMLImageElement|null), widthPx: function(): number,
 *   shown: function, size: function(): {width, height}, zoom: function(number), stop: function}} `picture(state, as)`, as being `photo` or `print`
 */
export function planBoard(app, name, resized = () => {}) {
  const canvas = h("canvas", { class: "plan-picture", "aria-hidden": "true" });
  const printPlace = h("div", { class: "plan-print", "aria-hidden": "true" });
  const planPlace = svg("g");
  const gridPlace = svg("g");
  const areaPlace = svg("g");
  const labelPlace = svg("g");
  const board = svg("svg", { class: "plan-board", role: "group", "aria-label": name }, gridPlace, planPlace, areaPlace, labelPlace);
  const element = h("div", { class: "plan-easel" }, canvas, printPlace, board);
  let image = null;
  let shown = "print";
  let plan = null;
  let options = { tape: false, labels: true };
  let areas = null;
  let size = { width: 0, height: 0 };
  let drawn = 0;
  let zoom = 1;

  function fit(state) {
    const proportion = proportionOf(state);
    element.style.aspectRatio = String(proportion);
    // The place is a container of its own (css/sheets.css).
    element.style.width = `min(calc(100cqw - var(--rim)), calc((100cqh - var(--rim)) * ${proportion}))`;
  }

  function drawPlan() {
    const there = plan && size.width > 0;
    fill(planPlace, there && planLayer(plan, size.width, options));
    fill(gridPlace, there && gridLayer(plan, size.width, app.state.sheets.gridDiagonals));
    fill(labelPlace, there && options.labels && labelLayer(plan, size.width));
  }

  function paint() {
    const { state } = app;
    if (!image || !state.photo || size.width === 0) return;
    const frame = frameOf(state);
    const { mirror } = state.sheets;
    const tones = shown === "photo" ? AS_PHOTO : asPrinted(state.sheets);
    drawPicture(canvas, image, {
      crop: cropOf(frame), rotateDeg: frame.rotateDeg, mirror, ...tones,
      referenceWidth: state.photo.widthPx, referenceHeight: state.photo.heightPx,
    }, Math.min(size.width * zoom, Math.max(MOST_CANVAS_PX, size.width)));
  }

  /** Paint at most once per animation frame. */
  function soon() {
    if (!drawn) {
      drawn = requestAnimationFrame(() => {
        drawn = 0;
        paint();
      });
    }
  }

  const watch = new ResizeObserver(([entry]) => {
    // An element that was removed from the page has no size.
    if (entry.contentRect.width === 0) return;
    size = { width: entry.contentRect.width, height: entry.contentRect.height };
    board.setAttribute("viewBox", `0 0 ${size.width} ${size.height}`);
    drawPlan();
    areas?.resize(size.width, size.height);
    soon();
    resized();
  });
  fit(app.state);
  watch.observe(element);

  return {
    element, board,
    /** Add the layer of protected areas. */
    areas(one) {
      areas = one;
      fill(areaPlace, one.layer);
    },
    /** Show a plan; null: none. */
    show(next) {
      plan = next;
      drawPlan();
    },
    /** Repaint: the picture, its tones, or the choice of photo or print has changed. */
    picture(state, as) {
      fit(state);
      shown = as;
      printPlace.hidden = as !== "print" || !isDrawn(state.sheets);
      soon();
    },
    /** Show the picture drawn by the service. */
    print(picture) {
      fill(printPlace, picture);
    },
    /** Width on the screen, in CSS pixels, as it is enlarged. */
    widthPx: () => size.width * zoom,
    /** The whole picture as it is shown now. @returns {CanvasImageSource|null} */
    shown: () => (printPlace.hidden ? null : printPlace.querySelector("img")) ?? (image && canvas),
    /** Width and height before it is enlarged. */
    size: () => size,
    /** It is enlarged: paint as finely as the photo is there. */
    zoom(scale) {
      if (scale === zoom) return;
      zoom = scale;
      areas?.zoom(scale);
      soon();
    },
    options(next) {
      options = { ...options, ...next };
      drawPlan();
    },
    /** Load the small photo. */
    async load(url) {
      const loading = new Image();
      await showPicture(loading, url);
      await loading.decode();
      image = loading;
      soon();
      return image;
    },
    stop() {
      watch.disconnect();
      cancelAnimationFrame(drawn);
    },
  };
}
