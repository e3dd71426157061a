// Step 1: the photo. It is shown at once from the device, searched at the service by its bytes,
// and uploaded only if it is not there; after a lost connection one tap continues.

import * as api from "../api/service.js";
import { mayDelete, showPicture } from "../api/access.js";
import { fill, h } from "../lib/dom.js";
import { dropPacksOf } from "../api/offline-cache.js";
import { nextLink, screenLayout } from "../controls/screen-layout.js";
import { decodePhoto } from "../lib/photo-decode.js";
import { personFoot } from "../controls/person-links.js";
import { pickers, pixelsText, photoUploader, smallNotice } from "../api/photo-upload.js";
import { mayChangeField } from "../state/class-defaults.js";
import { FRAME_RESET } from "../state/state.js";
import { problemText } from "../lib/words.js";

const LONGEST_NAME = 60;

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const pictureArea = h("div", { class: "easel photo-easel" });
  const messages = h("div", { class: "photo-news" });
  const choose = h("div", { class: "photo-choose" });
  const foot = nextLink(t("photo.next"), "paper");
  let decoding = null;
  let shown = null;

  screenLayout(root, {
    title: t("photo.title"), lead: t("photo.lead"), pictureArea, controls: [choose, messages, privacy(t, app.person.keepDays), personFoot(app)], actions: [foot],
  });
  takeDrops(pictureArea, take);
  show();

  function show() {
    const { photo } = app.state;
    decoding = null;
    foot.hidden = !photo;
    const image = photo && h("img", { alt: t("photo.preview", { name: photo.name }) });
    fill(pictureArea, image ?? emptyPhotoArea(t));
    shown = image && showPicture(image, photo.previewUrl);
    fill(choose, pickers(t, photo !== null, take));
    fill(messages, photo && known(photo));
  }

  function known(photo) {
    return h("div", { class: "photo-known" },
      h("p", {}, h("strong", { class: "photo-name", text: photo.name || t("photo.unnamed") })),
      h("p", { class: "small", text: pixelsText(t, photo.widthPx, photo.heightPx) }),
      smallNotice(app, photo.widthPx, photo.heightPx),
      mayDelete() && h("button", { type: "button", class: "button quiet", on: { click: () => forget(photo) } }, t("photo.forget")));
  }

  /** Delete a photo, together with the one that it was squared up from. */
  async function forget(photo) {
    const ids = [photo.referenceId, photo.original?.referenceId].filter(Boolean);
    app.update({ photo: null, pack: ids.includes(app.state.pack?.referenceId) ? null : app.state.pack });
    show();
    app.announce(t("photo.forgotten"));
    ids.forEach(dropPacksOf);
    try {
      await api.deleteReference(ids.at(-1));
    } catch (error) {
      if (error.status !== 404) showNotDeleted(error);
    }
  }

  function showNotDeleted(error) {
    const word = problemText(t, error);
    messages.prepend(h("div", { class: "notice bad" }, h("strong", { text: t("photo.refused") }), h("p", { text: word })));
    app.announce(`${t("photo.refused")} ${word}`, true);
  }

  const uploader = photoUploader(app, {
    messages, onStored: showStored, onAbandoned: show,
    onStart() {
      foot.hidden = true;
      fill(choose);
    },
  });

  function take(file) {
    fill(pictureArea, h("p", { class: "easel-word", text: t("photo.opening") }));
    decoding = file;
    decodePhoto(file, t("photo.preview", { name: file.name }))
      .then((canvas) => decoding === file && fill(pictureArea, canvas ?? h("p", { class: "easel-word", text: t("photo.unseen") })));
    uploader.take(file);
  }

  function showStored(file, taken, wasThere) {
    decoding = null;
    const fresh = taken.id !== app.state.photo?.referenceId;
    app.update({
      photo: {
        referenceId: taken.id, widthPx: taken.width_px, heightPx: taken.height_px,
        previewUrl: taken.links.preview, name: (file.name || "").slice(0, LONGEST_NAME),
      },
      ...(fresh ? startAnew(app.state, taken) : {}),
    });
    const seen = pictureArea.querySelector("canvas");
    show();
    if (seen) swapWhenLoaded(pictureArea, seen, shown);
    const word = t(wasThere ? "photo.there" : "photo.sent");
    messages.prepend(h("p", { class: "notice good", text: word }));
    app.announce(word);
    foot.focus({ preventScroll: true });
  }

  return { unmount: uploader.stop };
}

/** The change of the state for another photo: frame and areas are reset, and the paper is turned like the photo. */
function startAnew({ paper, settled }, taken) {
  const lies = (width, height) => Math.sign(width - height);
  const free = !settled?.mayChange || mayChangeField(settled.mayChange, "support.width_mm");
  const turned = free && lies(paper.widthMm, paper.heightMm) === -lies(taken.width_px, taken.height_px);
  return {
    ...FRAME_RESET,
    reached: 0,
    paper: turned ? { widthMm: paper.heightMm, heightMm: paper.widthMm } : {},
  };
}

/** Show the device's picture until the service's preview has loaded. */
function swapWhenLoaded(pictureArea, canvas, shown) {
  const image = pictureArea.querySelector("img");
  fill(pictureArea, canvas);
  shown.then(() => image.decode()).catch(() => {}).then(() => {
    if (canvas.isConnected) fill(pictureArea, image);
  });
}

function emptyPhotoArea(t) {
  return h("div", { class: "easel-empty" },
    h("p", { class: "easel-mark", "aria-hidden": "true", text: "Ricalco" }),
    h("p", { class: "easel-word", text: t("photo.empty") }));
}

/** The notice about storage: in a class, photos are deleted after a stated time. */
function privacy(t, days) {
  return h("div", { class: "small photo-advice" },
    h("p", { text: t("photo.advice") }), h("p", { text: days === null ? t("photo.privacy") : t("photo.privacy-days", { count: days }) }));
}

/** Accept a file dropped on the picture area; the button does the same. */
function takeDrops(pictureArea, take) {
  pictureArea.addEventListener("dragover", (event) => event.preventDefault());
  pictureArea.addEventListener("drop", (event) => {
    event.preventDefault();
    const [file] = event.dataTransfer.files;
    if (file) take(file);
  });
}
