// Step 1: the photo. It is shown at once from the device, searched at the service by its bytes,
// and uploaded only if it is not there; after a lost connection one tap continues.

import { photoDeletion } from "../api/deletions.js";
import { mayDelete, showPicture } from "../api/access.js";
import { fill, h, svg } from "../lib/browser/dom.js";
import { backLink, nextLink, screenLayout } from "../controls/screen/layout.js";
import { decodePhoto } from "../lib/browser/photo-decode.js";
import { personFoot } from "../controls/screen/person-links.js";
import { pickers, pixelsText, photoUploader, smallNotice } from "../api/photo-upload.js";
import { mayChangeField } from "../state/class-defaults.js";
import { allPictures, another } from "../state/pictures.js";
import { FRAME_RESET } from "../state/state.js";

const LONGEST_NAME = 60;

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const pictureArea = h("div", { class: "easel photo-easel" });
  const messages = h("div", { class: "photo-news" });
  const choose = h("div", { class: "photo-choose" });
  // Not beside the button that chooses another photo, where a finger that errs meets it.
  const forgetting = h("div", { class: "photo-forget" });
  const begin = h("div", { class: "photo-choose photo-begin" });
  const foot = nextLink(t("photo.next"), "paper");
  let decoding = null;
  let shown = null;

  screenLayout(root, {
    title: t("photo.title"), lead: t("photo.lead"), pictureArea, kind: "photo",
    controls: [messages, choose, h("div", {}, privacy(t, app.person.keepDays), forgetting), personFoot(app)],
    actions: [app.hasPictures && backLink(t("common.shelf"), "shelf"), begin, foot],
  });
  if (app.person.group?.picture) showClassPicture(app, choose);
  takeDrops(pictureArea, take);
  pictureArea.addEventListener("click", () => app.state.photo === null && begin.querySelector("input")?.click());
  show();

  function show() {
    const { photo } = app.state;
    decoding = null;
    foot.hidden = !photo;
    const image = photo && h("img", { alt: t("photo.preview", { name: photo.name }) });
    fill(pictureArea, image ?? emptyPhotoArea(t));
    shown = image && showPicture(image, photo.previewUrl);
    offerPickers(photo !== null);
    showShape(photo);
    fill(messages, photo && known(photo));
    fill(forgetting, photo && mayDelete() && !photo.lent && h("button", { type: "button", class: "button quiet flush", on: { click: forget } }, t("photo.forget")));
  }

  /** The buttons that choose a photo: at the foot for the first, below the photo for another. */
  function offerPickers(hasOne) {
    fill(choose, hasOne && pickers(t, true, take));
    fill(begin, !hasOne && pickers(t, false, take));
    begin.hidden = hasOne;
  }

  /** The area gets the proportion of what it shows. */
  function showShape(photo) {
    pictureArea.classList.toggle("empty", !photo);
    if (photo) pictureArea.style.setProperty("--proportion", photo.widthPx / photo.heightPx);
  }

  function known(photo) {
    return h("div", { class: "photo-known" },
      h("p", {}, h("strong", { class: "photo-name", text: photo.name || t("photo.unnamed") })),
      h("p", { class: "small", text: pixelsText(t, photo.widthPx, photo.heightPx) }),
      smallNotice(app, photo.widthPx, photo.heightPx));
  }

  /** Delete the photo with all that was made from it, and with the one that it was squared up from. */
  function forget() {
    app.deletions.add(photoDeletion(allPictures(app.state), app.state.photo));
    show();
  }

  const uploader = photoUploader(app, {
    messages, onStored: showStored, onAbandoned: show,
    onStart() {
      foot.hidden = true;
      fill(choose);
      begin.hidden = true;
    },
  });

  function take(file) {
    fill(pictureArea, h("p", { class: "easel-word", text: t("photo.opening") }));
    decoding = file;
    decodePhoto(file, t("photo.preview", { name: file.name }))
      .then((canvas) => decoding === file && showDecoded(canvas));
    uploader.take(file);
  }

  function showDecoded(canvas) {
    if (canvas) showShape({ widthPx: canvas.width, heightPx: canvas.height });
    fill(pictureArea, canvas ?? h("p", { class: "easel-word", text: t("photo.unseen") }));
  }

  function showStored(file, taken, wasThere) {
    decoding = null;
    const fresh = taken.id !== app.state.photo?.referenceId;
    // Another photo is another picture; one with which nothing was done gives way.
    if (fresh && (app.state.pack || app.state.step !== "photo")) app.update(another(app.state));
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

/** Show the class's picture before the buttons for a photo of one's own. */
async function showClassPicture(app, choose) {
  const { classPictureCard } = await import("./class-picture.js");
  choose.before(classPictureCard(app, app.person.group.picture));
}

/** The change of the state for another photo: frame and areas are reset, and the paper is turned like
 * the photo unless the person has said how it lies. */
function startAnew({ paper, settled }, taken) {
  const lies = (width, height) => Math.sign(width - height);
  const free = !settled?.mayChange || mayChangeField(settled.mayChange, "support.width_mm");
  const turned = free && !paper.own && lies(paper.widthMm, paper.heightMm) === -lies(taken.width_px, taken.height_px);
  return {
    ...FRAME_RESET,
    title: "",
    reached: 0,
    paper: turned && !paper.asPhoto ? { widthMm: paper.heightMm, heightMm: paper.widthMm } : {},
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
  return h("div", { class: "easel-empty" }, sheetsDrawing(), h("p", { class: "easel-word", text: t("photo.empty") }));
}

/** A support that is covered by sheets, with its dimension lines: what comes of a photo. */
function sheetsDrawing() {
  const line = (x1, y1, x2, y2) => svg("line", { x1, y1, x2, y2 });
  return svg("svg", { class: "empty-drawing", viewBox: "0 0 300 210", "aria-hidden": "true" },
    svg("rect", { class: "empty-leaf", x: 26, y: 26, width: 270, height: 180 }),
    svg("g", { class: "empty-seams" }, line(116, 26, 116, 206), line(206, 26, 206, 206), line(26, 116, 296, 116)),
    svg("text", { class: "empty-mark", x: 161, y: 133, "text-anchor": "middle" }, "Ricalco"),
    svg("g", { class: "dimension" }, line(26, 12, 296, 12), line(12, 26, 12, 206),
      [[26, 12], [296, 12], [12, 26], [12, 206]].map(([x, y]) => line(x - 4, y + 4, x + 4, y - 4))));
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
