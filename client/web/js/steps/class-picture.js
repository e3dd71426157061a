// The class's picture on a student's first screen: taken up as the tutor has framed it, or framed
// anew.

import { h } from "../lib/browser/dom.js";
import { framedPhoto } from "../draw/framed-photo.js";
import { frameIn, pictureTaken } from "../state/framing.js";
import { FRAME_RESET } from "../state/state.js";

/** @param {object} app @param {object} picture of the class @returns {Element} */
export function classPictureCard(app, picture) {
  const { t } = app;
  const frame = frameIn(picture.spec);
  const alt = t("class-picture.title");
  const take = (reset, step) => {
    app.update({ ...pictureTaken(app.state, picture, alt, reset), title: "", pack: null, checklist: null });
    app.go(step);
  };
  const button = (text, click, kind = "") => h("button", { type: "button", class: `button ${kind}`, on: { click } }, text);
  return h("section", { class: "class-picture", "aria-label": alt },
    framedPhoto({ preview: picture.preview, widthPx: picture.width_px, heightPx: picture.height_px, alt }, frame, picture.spec.seams?.protect),
    h("div", { class: "stack" }, h("h2", { text: alt }),
      button(t("class-picture.take"), () => take(null, "sheets"), "primary"),
      frame && button(t("class-picture.anew"), () => take(FRAME_RESET, "frame"))));
}
