// Step 1: the photo. It is shown at once from the device, looked for at the service by its
// bytes, and sent only if it is not there; a line that drops costs one tap, not the photo.

import * as api from "../api/service.js";
import { fill, h } from "../lib/dom.js";
import { dropPacksOf } from "../api/offline-cache.js";
import { nextLink, plate } from "../controls/screen-layout.js";
import { firstLook } from "../lib/photo-decode.js";
import { personFoot } from "../controls/person-links.js";
import { pickers, pixelsText, sender, smallNotice } from "../api/photo-upload.js";
import { isFree } from "../state/class-defaults.js";
import { FRAMED_ANEW } from "../state/state.js";
import { problemText } from "../lib/words.js";

const LONGEST_NAME = 60;

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const easel = h("div", { class: "easel photo-easel" });
  const news = h("div", { class: "photo-news" });
  const choose = h("div", { class: "photo-choose" });
  const foot = nextLink(t("photo.next"), "paper");
  let looking = null;

  plate(root, {
    title: t("photo.title"), lead: t("photo.lead"), easel, controls: [choose, news, privacy(t, app.person.keepDays), personFoot(app)], actions: [foot],
  });
  takeDrops(easel, take);
  show();

  function show() {
    const { photo } = app.state;
    looking = null;
    foot.hidden = !photo;
    if (photo) fill(easel, h("img", { src: photo.previewUrl, alt: t("photo.preview", { name: photo.name }) }));
    else fill(easel, emptyEasel(t));
    fill(choose, pickers(t, photo !== null, take));
    fill(news, photo && known(photo));
  }

  function known(photo) {
    return h("div", { class: "photo-known" },
      h("p", {}, h("strong", { class: "photo-name", text: photo.name || t("photo.unnamed") })),
      h("p", { class: "small", text: pixelsText(t, photo.widthPx, photo.heightPx) }),
      smallNotice(app, photo.widthPx, photo.heightPx),
      h("button", { type: "button", class: "button quiet", on: { click: () => forget(photo) } }, t("photo.forget")));
  }

  /** What was squared up from a photo goes with it. */
  async function forget(photo) {
    const ids = [photo.referenceId, photo.original?.referenceId].filter(Boolean);
    app.update({ photo: null, pack: ids.includes(app.state.pack?.referenceId) ? null : app.state.pack });
    show();
    app.announce(t("photo.forgotten"));
    ids.forEach(dropPacksOf);
    try {
      await api.deleteReference(ids.at(-1));
    } catch (error) {
      if (error.status !== 404) tellKept(error);
    }
  }

  function tellKept(error) {
    const word = problemText(t, error);
    news.prepend(h("div", { class: "notice bad" }, h("strong", { text: t("photo.refused") }), h("p", { text: word })));
    app.announce(`${t("photo.refused")} ${word}`, true);
  }

  const sending = sender(app, {
    news, kept: keep, left: show,
    begun() {
      foot.hidden = true;
      fill(choose);
    },
  });

  function take(file) {
    fill(easel, h("p", { class: "easel-word", text: t("photo.opening") }));
    looking = file;
    firstLook(file, t("photo.preview", { name: file.name }))
      .then((canvas) => looking === file && fill(easel, canvas ?? h("p", { class: "easel-word", text: t("photo.unseen") })));
    sending.take(file);
  }

  function keep(file, taken, wasThere) {
    looking = null;
    const fresh = taken.id !== app.state.photo?.referenceId;
    app.update({
      photo: {
        referenceId: taken.id, widthPx: taken.width_px, heightPx: taken.height_px,
        previewUrl: taken.links.preview, name: (file.name || "").slice(0, LONGEST_NAME),
      },
      ...(fresh ? startAnew(app.state, taken) : {}),
    });
    const seen = easel.querySelector("canvas");
    show();
    if (seen) swapWhenLoaded(easel, seen);
    const word = t(wasThere ? "photo.there" : "photo.sent");
    news.prepend(h("p", { class: "notice good", text: word }));
    app.announce(word);
    foot.focus({ preventScroll: true });
  }

  return { unmount: sending.stop };
}

/** Another photo: nothing is framed or protected yet, and the paper lies as the photo does. */
function startAnew({ paper, settled }, taken) {
  const lies = (width, height) => Math.sign(width - height);
  const free = !settled?.mayChange || isFree(settled.mayChange, "support.width_mm");
  const turned = free && lies(paper.widthMm, paper.heightMm) === -lies(taken.width_px, taken.height_px);
  return {
    ...FRAMED_ANEW,
    paper: turned ? { widthMm: paper.heightMm, heightMm: paper.widthMm } : {},
  };
}

/** The picture from the device stays until the service's preview can take its place. */
function swapWhenLoaded(easel, canvas) {
  const image = easel.querySelector("img");
  fill(easel, canvas);
  image.decode().catch(() => {}).then(() => {
    if (canvas.isConnected) fill(easel, image);
  });
}

function emptyEasel(t) {
  return h("div", { class: "easel-empty" },
    h("p", { class: "easel-mark", "aria-hidden": "true", text: "Ricalco" }),
    h("p", { class: "easel-word", text: t("photo.empty") }));
}

/** What is kept is said as it is: in a class, things are deleted when their time is over. */
function privacy(t, days) {
  return h("div", { class: "small photo-advice" },
    h("p", { text: t("photo.advice") }), h("p", { text: days === null ? t("photo.privacy") : t("photo.privacy-days", { count: days }) }));
}

/** A mouse may also drop a file on the easel; the button does the same. */
function takeDrops(easel, take) {
  easel.addEventListener("dragover", (event) => event.preventDefault());
  easel.addEventListener("drop", (event) => {
    event.preventDefault();
    const [file] = event.dataTransfer.files;
    if (file) take(file);
  });
}
