// The choice of the photos of a batch.

import { part } from "../parts.js";
import { fill, h } from "../../lib/browser/dom.js";
import { choice } from "../../controls/fields.js";
import { framedPhoto } from "../../draw/framed-photo.js";
import { ACCEPT, picker, photoUploader } from "../../api/photo-upload.js";
import { frameIn, framingOf } from "../../state/framing.js";

/**
 * Each student's own photo, one photo for all, the class's picture, or the packs that students
 * have ordered. `reference()` is null for own photos, a photo for all, or undefined: not chosen
 * yet; `framing()` is how the tutor has framed a photo for all, as part of a spec, or null.
 * @param {object} app
 * @param {{someAsked: boolean, picture: object|null}} group
 * @param {function()} changed
 */
export function photoChoice(app, { someAsked, picture }, changed) {
  const { t } = app;
  const place = h("div", { class: "batch-photo" });
  const lent = picture && { id: picture.reference_id, preview: picture.preview, width_px: picture.width_px, height_px: picture.height_px };
  const { photo } = app.state;
  const mine = photo && { id: photo.referenceId, preview: photo.previewUrl, width_px: photo.widthPx, height_px: photo.heightPx };
  let kind = someAsked ? "asked" : "own";
  let reference = mine;
  const chooser = h("div", { class: "photo-choose" });
  const messages = h("div", { class: "photo-news" });
  const uploader = photoUploader(app, { messages, onStart: () => fill(chooser), onStored: showStored, onAbandoned: draw });

  function showStored(_, taken) {
    reference = { id: taken.id, preview: taken.links.preview, width_px: taken.width_px, height_px: taken.height_px };
    fill(messages);
    draw();
    changed();
  }

  /** The tutor's framing of the photo that is chosen; another photo than the page's has none. */
  function framing() {
    if (kind === "class") return picture.spec;
    return kind === "one" && reference && reference.id === mine?.id ? framingOf(app.state) : null;
  }

  function draw() {
    fill(chooser, picker(t(reference ? "photo.other" : "photo.file"), { accept: ACCEPT }, "", uploader.take));
    const one = { class: lent, one: reference }[kind];
    const framed = framing();
    const shown = one && framedPhoto(
      { preview: one.preview, widthPx: one.width_px, heightPx: one.height_px, alt: t("batch.photo-alt") }, framed && frameIn(framed), framed?.seams?.protect);
    if (kind === "asked") fill(place, h("p", { class: "small", text: t("batch.asked-note") }));
    else {
      fill(place, shown, kind === "one" && [
        h("div", { class: "stack" }, chooser, framed && h("a", { class: "button quiet flush", href: "#frame" }, t("class-picture.frame"))), messages]);
    }
  }

  const kinds = ["own", "one", ...(lent ? ["class"] : []), "asked"].map((one) => [one, t(`batch.photo-${one}`)]);
  const element = part(t("batch.photo"), choice("batch-photo", t("batch.photo"), kinds, kind, (chosen) => {
    kind = chosen;
    draw();
    changed();
  }, { hideLegend: true }), place);
  if (someAsked) draw();
  return {
    element, framing, asAsked: () => kind === "asked", stop: uploader.stop,
    reference: () => ({ class: lent, one: reference ?? undefined }[kind] ?? (kind === "one" ? undefined : null)),
  };
}
