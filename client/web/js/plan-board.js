// The board of the sheets: the picture in the tones of the print, the plan over it, and the
// protected areas on top. It takes its size from the picture's proportions before anything has
// loaded, so that nothing jumps.

import { fill, h, svg } from "./dom.js";
import { drawPicture } from "./easel.js";
import { labelLayer, planLayer } from "./overlay.js";
import { cropOf, frameOf, proportionOf } from "./state.js";

/**
 * @param {object} app
 * @param {string} name What the board is called to those who cannot see it.
 * @returns {{element, board: SVGElement, areas: function({layer, resize}),
 *   show: function(object|null), picture: function(object), options: function(object),
 *   stop: function}}
 */
export function planBoard(app, name) {
  const canvas = h("canvas", { class: "plan-picture", "aria-hidden": "true" });
  const planPlace = svg("g");
  const areaPlace = svg("g");
  const labelPlace = svg("g");
  const board = svg("svg", { class: "plan-board", role: "group", "aria-label": name }, planPlace, areaPlace, labelPlace);
  const element = h("div", { class: "plan-easel" }, canvas, board);
  let image = null;
  let plan = null;
  let options = { tape: false };
  let areas = null;
  let size = { width: 0, height: 0 };
  let drawn = 0;

  function fit(state) {
    const proportion = proportionOf(state);
    element.style.aspectRatio = String(proportion);
    element.style.width = `min(100%, calc(var(--board-height) * ${proportion}))`;
  }

  function drawPlan() {
    const there = plan && size.width > 0;
    fill(planPlace, there && planLayer(plan, size.width, options));
    fill(labelPlace, there && labelLayer(plan, size.width));
  }

  function paint() {
    const { state } = app;
    if (!image || !state.photo || size.width === 0) return;
    const frame = frameOf(state);
    const { style, lighten, contrast, mirror } = state.sheets;
    drawPicture(canvas, image, {
      crop: cropOf(frame), rotateDeg: frame.rotateDeg, mirror, style, lighten, contrast,
      referenceWidth: state.photo.widthPx, referenceHeight: state.photo.heightPx,
    }, size.width);
  }

  /** At most once per frame of the screen, however fast a slider moves. */
  function soon() {
    if (!drawn) {
      drawn = requestAnimationFrame(() => {
        drawn = 0;
        paint();
      });
    }
  }

  const watch = new ResizeObserver(([entry]) => {
    // A board that is taken off the page has no size, and nothing to be drawn on.
    if (entry.contentRect.width === 0) return;
    size = { width: entry.contentRect.width, height: entry.contentRect.height };
    board.setAttribute("viewBox", `0 0 ${size.width} ${size.height}`);
    drawPlan();
    areas?.resize(size.width, size.height);
    soon();
  });
  fit(app.state);
  watch.observe(element);

  return {
    element, board,
    /** Lay the protected areas on top. */
    areas(one) {
      areas = one;
      fill(areaPlace, one.layer);
    },
    /** Show a plan, or none. */
    show(next) {
      plan = next;
      drawPlan();
    },
    /** The picture or its tones have changed. */
    picture(state) {
      fit(state);
      soon();
    },
    options(next) {
      options = { ...options, ...next };
      drawPlan();
    },
    /** Load the preview. */
    async load(url) {
      const loading = new Image();
      loading.src = url;
      await loading.decode();
      image = loading;
      soon();
    },
    stop() {
      watch.disconnect();
      cancelAnimationFrame(drawn);
    },
  };
}
