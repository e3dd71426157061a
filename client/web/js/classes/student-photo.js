// One student's photo on the tutor's board: seen larger, sent for who cannot send it themselves
// (a print that was scanned, a phone that was left at home), or deleted.

import * as api from "../api/service.js";
import { askFirst, button, openDialog } from "./parts.js";
import { fill, h } from "../lib/dom.js";
import { firstLook } from "../lib/photo-decode.js";
import { pickers, pixelsText, sender, smallNotice } from "../api/photo-upload.js";

/**
 * @param {object} app
 * @param {{id: string, name: string, photo: object|null}} one a line of the board
 * @param {function()} changed called when there is another photo, or none
 */
export function openPhoto(app, one, changed) {
  const { t } = app;
  const easel = h("div", { class: "easel class-easel" });
  const news = h("div", { class: "photo-news" });
  const choose = h("div", { class: "photo-choose" });
  const foot = h("div", { class: "button-row" });
  let { photo } = one;
  let looking = null;
  const sending = sender(app, { news, studentId: one.id, begun: () => fill(choose), kept: keep, left: show });
  show();
  const dialog = openDialog(one.name, easel, news, choose, h("p", { class: "small", text: t("class.photo-note") }), foot);
  dialog.element.classList.add("sheetlet-photo");
  dialog.element.addEventListener("close", sending.stop);

  function show() {
    looking = null;
    fill(easel, photo ? h("img", { src: photo.preview, alt: t("class.photo-of", { name: one.name }) })
      : h("p", { class: "easel-word", text: t("class.no-photo") }));
    fill(news, photo && h("p", { class: "small", text: pixelsText(t, photo.width_px, photo.height_px) }),
      photo && smallNotice(app, photo.width_px, photo.height_px));
    fill(choose, pickers(t, photo !== null, take));
    fill(foot, button(t("settings.close"), () => dialog.close()), photo && button(t("photo.forget"), askForget, "danger"));
  }

  function take(file) {
    looking = file;
    fill(easel, h("p", { class: "easel-word", text: t("photo.opening") }));
    firstLook(file, t("class.photo-of", { name: one.name }))
      .then((canvas) => looking === file && fill(easel, canvas ?? h("p", { class: "easel-word", text: t("photo.unseen") })));
    sending.take(file);
  }

  function keep(_, taken) {
    photo = { id: taken.id, preview: taken.links.preview, width_px: taken.width_px, height_px: taken.height_px };
    show();
    news.prepend(h("p", { class: "notice good", text: t("photo.sent") }));
    app.announce(t("photo.sent"));
    changed();
    foot.querySelector("button").focus();
  }

  function askForget() {
    askFirst(app, {
      title: t("class.photo-delete", { name: one.name }), says: t("class.photo-delete-says"), yes: t("photo.forget"),
      act: async () => {
        await api.deleteReference(photo.id);
        dialog.close();
        changed();
      },
    });
  }
}
