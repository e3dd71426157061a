// This photo in each print style, small: what a style is, is seen and not read. Grey and colour are
// made here; lines and tones come from the service, one after the other, when it has nothing
// better to do.

import * as api from "../api/service.js";
import { pictureOfBlob, whileBusy } from "../api/print-preview.js";
import { fill, h } from "../lib/browser/dom.js";
import { drawPicture, lightening } from "./print-tones.js";
import { cropOf, frameOf, isLined, specOf, STYLES } from "../state/state.js";

/** The service's limits. */
const WIDTH_PX = 320;
const HEAVIEST_MM = 2;
/** On the screen, in CSS pixels. */
const SHOWN_PX = 96;
/** Finer lines would be lost in a picture this small. */
const LINES_ACROSS = 150;
const PENS_MM = [0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1, 1.4, HEAVIEST_MM];
const REST_MS = 900;
const HELD_MS = 200;

const rest = (ms) => new Promise((resolve) => { setTimeout(resolve, ms); });

/** A state as it is shown small: with heavy lines, and little detail. */
function small(state, style) {
  const width = state.paper.widthMm / LINES_ACROSS;
  const lineMm = PENS_MM.find((pen) => pen >= width) ?? HEAVIEST_MM;
  return { ...state, sheets: { ...state.sheets, style, lineMm, detail: Math.min(state.sheets.detail, 0.5), gridMm: null } };
}

/**
 * @param {object} app
 * @returns {{of: function(string): HTMLElement, load: function(CanvasImageSource), ask: function(object), use: function(boolean), hold: function(boolean), stop: function}}
 *   `of(style)` is the place of a style's picture; `load(image)` gives the small photo
 */
export function stylePictures(app) {
  const places = new Map(STYLES.map((style) => [style, h("span", { class: "style-picture", "aria-hidden": "true" })]));
  let photo = null;
  let shown = "";
  let used = false;
  let held = false;
  let timer = 0;
  let stopping = new AbortController();
  const addresses = new Map();

  function drawHere(state) {
    const frame = frameOf(state);
    for (const style of STYLES) {
      const own = small(state, style);
      const canvas = h("canvas");
      drawPicture(canvas, photo, {
        crop: cropOf(frame), rotateDeg: frame.rotateDeg, mirror: false, style: style === "colour" ? "colour" : "grey",
        lighten: lightening(own.sheets), contrast: state.sheets.contrast,
        referenceWidth: state.photo.widthPx, referenceHeight: state.photo.heightPx,
      }, SHOWN_PX);
      // What only the service can draw stands faint until it comes.
      canvas.classList.toggle("waiting", isLined({ style }) || style === "values");
      fill(places.get(style), canvas);
    }
  }

  async function fetchOthers(state, signal) {
    for (const style of STYLES.filter((one) => isLined({ style: one }) || one === "values")) {
      // The picture that is looked at comes first.
      while (held && !signal.aborted) await rest(HELD_MS);
      if (signal.aborted) return;
      try {
        const { blob } = await whileBusy(
          () => api.preview(state.photo.referenceId, specOf(small(state, style)), WIDTH_PX, signal), () => signal.aborted,
        );
        const image = await pictureOfBlob(blob);
        if (signal.aborted) {
          URL.revokeObjectURL(image.src);
          return;
        }
        if (addresses.has(style)) URL.revokeObjectURL(addresses.get(style));
        addresses.set(style, image.src);
        fill(places.get(style), image);
      } catch {
        // The faint photo stays: a style can be chosen without its picture.
        if (signal.aborted) return;
      }
    }
  }

  function ask(state) {
    if (!used || !photo || !state.photo) return;
    const { contrast } = state.sheets;
    const key = JSON.stringify([state.photo.referenceId, frameOf(state), state.paper.widthMm, state.paper.heightMm, contrast]);
    if (key === shown) return;
    shown = key;
    stop();
    stopping = new AbortController();
    const { signal } = stopping;
    drawHere(state);
    timer = setTimeout(() => fetchOthers(state, signal), REST_MS);
  }

  function stop() {
    clearTimeout(timer);
    stopping.abort();
  }

  return {
    of: (style) => places.get(style),
    load(image) {
      photo = image;
      shown = "";
      ask(app.state);
    },
    ask,
    /** Whether they are seen; nothing is asked for otherwise. */
    use(is) {
      used = is;
      stop();
      shown = "";
      ask(app.state);
    },
    /** Whether the large picture is being drawn: these wait for it. */
    hold(is) {
      held = is;
    },
    stop() {
      stop();
      for (const address of addresses.values()) URL.revokeObjectURL(address);
    },
  };
}
