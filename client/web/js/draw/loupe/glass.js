// The glass of a loupe: a part of the picture at print scale. Until the service's close-up has come,
// and where the last one does not reach, the small picture is shown enlarged, so that a move shows
// at once.

import { closeUpKey, closeUps } from "../../api/close-up.js";
import { h } from "../../lib/browser/dom.js";
import { partOf } from "./place.js";
import { writeLengthUnit } from "../../lib/texts/units.js";
import { isLined, pictureOf } from "../../state/state.js";
import { problemText } from "../../lib/texts/words.js";

/** Limit of the pixels for a CSS pixel: more is not visible, and takes longer to load. */
const MOST_DENSE = 2;
/** Length of the scale bar. */
const BAR_MM = 10;

/**
 * @param {object} app
 * @param {function(): CanvasImageSource|null} smallPicture The whole picture, as it is shown now.
 * @returns {{element: HTMLElement, trouble: HTMLElement, look: function({x, y}, number, number):
 *   {centre: {x, y}, partMm: object}, rest: function(), stop: function}} `look(centre, times, sidePx)`
 *   shows a place, as near to the one asked for as the picture reaches; `rest` names it
 */
export function loupeGlass(app, smallPicture) {
  const { t } = app;
  const canvas = h("canvas", { class: "loupe-canvas", "aria-hidden": "true" });
  const scale = h("span", { class: "loupe-scale" });
  const legend = h("div", { class: "loupe-legend", "aria-hidden": "true" }, scale, writeLengthUnit(BAR_MM, "mm", t.language));
  const line = h("div", { class: "loupe-legend loupe-line", "aria-hidden": "true" });
  const element = h("div", { class: "loupe-glass", role: "img", tabindex: "0", "aria-label": t("loupe.title") },
    canvas, line, legend);
  const trouble = h("p", { class: "loupe-trouble small", role: "status" });
  let seen = null;
  let sharp = null;
  let drawn = 0;
  const requests = closeUps({
    busy: (is) => element.setAttribute("aria-busy", String(is)),
    picture(image, partMm, key) {
      trouble.textContent = "";
      sharp = { image, partMm, key };
      paint();
    },
    problem(error) {
      trouble.textContent = t("loupe.trouble", { why: problemText(t, error) });
    },
  });

  function look(centre, times, sidePx) {
    const { state } = app;
    const density = Math.min(window.devicePixelRatio || 1, MOST_DENSE);
    const picture = pictureOf(state);
    seen = { ...partOf(picture, centre, { sidePx, density, times }), sidePx, density };
    if (!drawn) drawn = requestAnimationFrame(paint);
    requests.ask(state, seen.partMm, seen.widthPx);
    const { left, top, width, height } = seen.partMm;
    const at = { x: (left + width / 2) / picture.widthMm, y: (top + height / 2) / picture.heightMm };
    return { centre: at, partMm: seen.partMm };
  }

  function paint() {
    cancelAnimationFrame(drawn);
    drawn = 0;
    if (!seen || !app.state.photo) return;
    const side = Math.round(seen.sidePx * seen.density);
    if (canvas.width !== side) Object.assign(canvas, { width: side, height: side });
    const pen = canvas.getContext("2d");
    pen.clearRect(0, 0, side, side);
    pen.save();
    pen.translate(Math.floor((side - seen.widthPx) / 2), Math.floor((side - seen.heightPx) / 2));
    pen.beginPath();
    pen.rect(0, 0, seen.widthPx, seen.heightPx);
    pen.clip();
    pen.imageSmoothingQuality = "high";
    const small = smallPicture();
    const { widthMm, heightMm } = pictureOf(app.state);
    if (small) paintPart(pen, small, { left: 0, top: 0, width: widthMm, height: heightMm });
    if (sharp?.key === closeUpKey(app.state)) paintPart(pen, sharp.image, sharp.partMm);
    pen.restore();
  }

  /** Paint an image of a part of the picture in its place; whole pixels stay whole. */
  function paintPart(pen, image, { left, top, width, height }) {
    const at = (mm) => Math.round(mm * seen.pxPerMm * 1000) / 1000;
    pen.drawImage(image, at(left - seen.partMm.left), at(top - seen.partMm.top), at(width), at(height));
  }

  return {
    element, trouble, look,
    rest() {
      if (!seen) return;
      const { paper, sheets } = app.state;
      const { left, top, width, height } = seen.partMm;
      const length = (mm) => writeLengthUnit(Math.round(mm), paper.unit, t.language);
      element.setAttribute("aria-label", t("loupe.place", { left: length(left + width / 2), top: length(top + height / 2) }));
      line.textContent = isLined(sheets) ? t("loupe.line", { width: sheets.lineMm }) : "";
      scale.style.width = `${(BAR_MM * seen.pxPerMm) / seen.density}px`;
    },
    stop() {
      cancelAnimationFrame(drawn);
      requests.stop();
    },
  };
}
