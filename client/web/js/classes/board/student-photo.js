// The dialog of one student's photo on the tutor's board: shown larger, uploaded for a student who
// cannot do it (a scanned print, a phone left at home), or deleted.

import * as api from "../../api/service.js";
import { confirmAction, button, openDialog } from "../parts.js";
import { fill, h } from "../../lib/browser/dom.js";
import { decodePhoto } from "../../lib/browser/photo-decode.js";
import { pickers, pixelsText, photoUploader, smallNotice } from "../../api/photo-upload.js";

/**
 * @param {object} app
 * @param {{id: string, name: string, photo: object|null}} one a line of the board
 * @param {function()} changed called when the photo has changed or was deleted
 */
export function openPhoto(app, one, changed) {
  const { t } = app;
  const pictureArea = h("div", { class: "easel class-easel" });
  const messages = h("div", { class: "photo-news" });
  const choose = h("div", { class: "photo-choose" });
  const foot = h("div", { class: "button-row" });
  let { photo } = one;
  let decoding = null;
  const uploader = photoUploader(app, { messages, studentId: one.id, onStart: () => fill(choose), onStored: showStored, onAbandoned: show });
  show();
  const dialog = openDialog(one.name, pictureArea, messages, choose, h("p", { class: "small", text: t("class.photo-note") }), foot);
  dialog.element.classList.add("sheetlet-photo");
  dialog.element.addEventListener("close", uploader.stop);

  function show() {
    decoding = null;
    fill(pictureArea, photo ? h("img", { src: photo.preview, alt: t("class.photo-of", { name: one.name }) })
      : h("p", { class: "easel-word", text: t("class.no-photo") }));
    fill(messages, photo && h("p", { class: "small", text: pixelsText(t, photo.width_px, photo.height_px) }),
      photo && smallNotice(app, photo.width_px, photo.height_px));
    fill(choose, pickers(t, photo !== null, take));
    fill(foot, button(t("settings.close"), () => dialog.close()), photo && button(t("photo.forget"), askForget, "danger"));
  }

  function take(file) {
    decoding = file;
    fill(pictureArea, h("p", { class: "easel-word", text: t("photo.opening") }));
    decodePhoto(file, t("class.photo-of", { name: one.name }))
      .then((canvas) => decoding === file && fill(pictureArea, canvas ?? h("p", { class: "easel-word", text: t("photo.unseen") })));
    uploader.take(file);
  }

  function showStored(_, taken) {
    photo = { id: taken.id, preview: taken.links.preview, width_px: taken.width_px, height_px: taken.height_px };
    show();
    messages.prepend(h("p", { class: "notice good", text: t("photo.sent") }));
    app.announce(t("photo.sent"));
    changed();
    foot.querySelector("button").focus();
  }

  function askForget() {
    confirmAction(app, {
      title: t("class.photo-delete", { name: one.name }), says: t("class.photo-delete-says"), yes: t("photo.forget"),
      act: async () => {
        await api.deleteReference(photo.id);
        dialog.close();
        changed();
      },
    });
  }
}
