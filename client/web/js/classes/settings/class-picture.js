// The class's picture: a photo that the tutor frames in the ordinary steps and lends to the class
// from here. Students find it on their first screen.

import * as classApi from "../../api/classes.js";
import { button, messageArea, part } from "../parts.js";
import { fill, h } from "../../lib/browser/dom.js";
import { framedPhoto } from "../../draw/framed-photo.js";
import { frameIn, framingOf } from "../../state/framing.js";

/** @param {object} app @param {object} group a class's document @returns {Element} */
export function picturePart(app, group) {
  const { t } = app;
  const place = h("div", { class: "stack" });
  const messages = messageArea(app);
  let { picture } = group;
  draw();

  function draw() {
    const { photo } = app.state;
    const framing = photo && framingOf(app.state);
    const same = picture && photo && photo.referenceId === picture.reference_id && JSON.stringify(framing) === JSON.stringify(picture.spec);
    fill(place,
      picture ? shown(picture) : h("p", { class: "small", text: t("class-picture.none") }),
      photo && !same && [
        h("p", { class: "small", text: t("class-picture.mine") }),
        framedPhoto({ preview: photo.previewUrl, widthPx: photo.widthPx, heightPx: photo.heightPx, alt: t("class-picture.mine") }, frameIn(framing), framing.seams.protect),
        button(t("class-picture.use"), () => change(async () => {
          ({ picture } = await classApi.setPicture(group.id, { reference_id: photo.referenceId, spec: framing }));
          messages.good(t("class-picture.used"));
        })),
      ],
      h("p", {}, h("a", { class: "button quiet flush", href: photo ? "#frame" : "#photo" }, t(photo ? "class-picture.frame" : "class-picture.choose"))),
      picture && button(t("class-picture.remove"), () => change(async () => {
        await classApi.removePicture(group.id);
        picture = null;
        messages.good(t("class-picture.removed"));
      }), "quiet"));
  }

  function shown({ preview, width_px: widthPx, height_px: heightPx, spec }) {
    return framedPhoto({ preview, widthPx, heightPx, alt: t("class-picture.title") }, frameIn(spec), spec.seams?.protect);
  }

  async function change(act) {
    messages.clear();
    try {
      await act();
      draw();
    } catch (error) {
      messages.wrong(error);
    }
  }

  return part(t("class-picture.title"), place, messages.element);
}
