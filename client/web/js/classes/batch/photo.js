// The choice of the photos of a batch.

import { part } from "../parts.js";
import { fill, h } from "../../lib/dom.js";
import { choice } from "../../controls/fields.js";
import { ACCEPT, picker, photoUploader } from "../../api/photo-upload.js";

/**
 * Each student's own photo, one photo for all, or the packs that students have ordered.
 * `reference()` is null for own photos, a photo for all, or undefined: not chosen yet.
 */
export function photoChoice(app, someAsked, changed) {
  const { t } = app;
  const place = h("div", { class: "batch-photo" });
  let kind = someAsked ? "asked" : "own";
  let reference = app.state.photo && {
    id: app.state.photo.referenceId, preview: app.state.photo.previewUrl, width_px: app.state.photo.widthPx, height_px: app.state.photo.heightPx,
  };
  const chooser = h("div", { class: "photo-choose" });
  const messages = h("div", { class: "photo-news" });
  const uploader = photoUploader(app, { messages, onStart: () => fill(chooser), onStored: showStored, onAbandoned: draw });

  function showStored(_, taken) {
    reference = { id: taken.id, preview: taken.links.preview, width_px: taken.width_px, height_px: taken.height_px };
    fill(messages);
    draw();
    changed();
  }

  function draw() {
    fill(chooser, picker(t(reference ? "photo.other" : "photo.file"), { accept: ACCEPT }, "", uploader.take));
    if (kind === "asked") fill(place, h("p", { class: "small", text: t("batch.asked-note") }));
    else fill(place, kind === "one" && [reference && h("img", { src: reference.preview, alt: t("batch.photo-alt") }), chooser, messages]);
  }

  const element = part(t("batch.photo"), choice("batch-photo", t("batch.photo"), ["own", "one", "asked"].map((one) => [one, t(`batch.photo-${one}`)]), kind, (chosen) => {
    kind = chosen;
    draw();
    changed();
  }, { hideLegend: true }), place);
  if (someAsked) draw();
  return {
    element, reference: () => (kind === "one" ? reference ?? undefined : null), asAsked: () => kind === "asked", stop: uploader.stop,
  };
}
