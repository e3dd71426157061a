// Step 1: the photo. It is shown at once from the device, looked for at the service by its
// bytes, and sent only if it is not there; a line that drops costs one tap, not the photo.

import * as api from "./api.js";
import { fill, h } from "./dom.js";
import { dropPacksOf } from "./keep.js";
import { nextLink, plate } from "./layout.js";
import { firstLook, sha256Of } from "./look.js";
import { personFoot } from "./person.js";
import { isFree } from "./settled.js";
import { FRAMED_ANEW } from "./state.js";
import { problemText } from "./words.js";

/** What a device may offer; the service judges the content itself. */
const ACCEPT = "image/*,.heic,.heif,.avif,.webp,.tif,.tiff";
const LONGEST_NAME = 60;

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const easel = h("div", { class: "easel photo-easel" });
  const news = h("div", { class: "photo-news" });
  const choose = h("div", { class: "photo-choose" });
  const foot = nextLink(t("photo.next"), "paper");
  let sending = null;

  plate(root, {
    title: t("photo.title"), lead: t("photo.lead"), easel, controls: [choose, news, privacy(t, app.person.keepDays), personFoot(app)], actions: [foot],
  });
  takeDrops(easel, take);
  show();

  function show() {
    const { photo } = app.state;
    foot.hidden = !photo;
    if (photo) fill(easel, h("img", { src: photo.previewUrl, alt: t("photo.preview", { name: photo.name }) }));
    else fill(easel, emptyEasel(t));
    fill(choose, pickers(t, photo, take));
    fill(news, photo && known(photo));
  }

  function known(photo) {
    return h("div", { class: "photo-known" },
      h("p", {}, h("strong", { class: "photo-name", text: photo.name || t("photo.unnamed") })),
      h("p", { class: "small", text: t("photo.size", { width: photo.widthPx, height: photo.heightPx, mega: megapixels(photo) }) }),
      h("button", { type: "button", class: "button quiet", on: { click: () => forget(photo) } }, t("photo.forget")));
  }

  function megapixels(photo) {
    return t.number((photo.widthPx * photo.heightPx) / 1e6, 1);
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
      if (error.status !== 404) tellProblem(error);
    }
  }

  function take(file) {
    sending?.stop.abort();
    sending = { file, key: api.freshKey(), stop: new AbortController(), sha256: null };
    const mine = sending;
    fill(easel, h("p", { class: "easel-word", text: t("photo.opening") }));
    firstLook(file, t("photo.preview", { name: file.name }))
      .then((canvas) => mine === sending && fill(easel, canvas ?? h("p", { class: "easel-word", text: t("photo.unseen") })));
    send(mine);
  }

  async function send(job) {
    foot.hidden = true;
    const bar = progressOf(job);
    fill(choose);
    fill(news, bar.element);
    try {
      const found = await lookFor(job);
      const taken = found ?? await api.uploadReference(job.file, { key: job.key, signal: job.stop.signal, progress: bar.show });
      if (job === sending) keep(job, taken, found !== null);
    } catch (error) {
      if (job === sending && error.name !== "AbortError") sendFailed(job, error);
    }
  }

  /** The service's own copy, if it has these bytes; not being able to ask is no reason to stop. */
  async function lookFor(job) {
    try {
      job.sha256 ??= await sha256Of(job.file);
      return job.sha256 && await api.findReference(job.sha256);
    } catch {
      return null;
    }
  }

  function progressOf(job) {
    const bar = h("progress", { max: 100, "aria-label": t("photo.sending") });
    const word = h("p", { class: "photo-going", text: t("photo.looking") });
    const stop = h("button", { type: "button", class: "button", on: { click: () => cancel(job) } }, t("photo.cancel"));
    let said = 0;
    return {
      element: h("div", { class: "photo-sending" }, word, bar, stop),
      show(share) {
        const percent = Math.floor(share * 100);
        bar.value = percent;
        word.textContent = percent < 100 ? t("photo.going", { percent }) : t("photo.reading");
        if (percent - said < 25) return;
        said = percent;
        app.announce(word.textContent);
      },
    };
  }

  function cancel(job) {
    job.stop.abort();
    sending = null;
    show();
    app.announce(t("photo.cancelled"));
  }

  function keep(job, taken, wasThere) {
    sending = null;
    const fresh = taken.id !== app.state.photo?.referenceId;
    app.update({
      photo: {
        referenceId: taken.id, widthPx: taken.width_px, heightPx: taken.height_px,
        previewUrl: taken.links.preview, name: (job.file.name || "").slice(0, LONGEST_NAME),
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

  function sendFailed(job, error) {
    if (!error.passing) {
      sending = null;
      show();
    }
    tellProblem(error, error.passing ? job : null);
  }

  function tellProblem(error, job = null) {
    const word = problemText(t, error);
    const again = job && h("button", { type: "button", class: "button primary", on: { click: () => send(job) } }, t("photo.again"));
    const notice = h("div", { class: "notice bad" },
      h("strong", { text: t(job ? "photo.dropped" : "photo.refused") }), h("p", { text: word }));
    fill(news, notice, again && h("div", { class: "button-row" }, again,
      h("button", { type: "button", class: "button", on: { click: () => cancel(job) } }, t("photo.cancel"))),
    !job && app.state.photo && known(app.state.photo));
    app.announce(`${t(job ? "photo.dropped" : "photo.refused")} ${word}`, true);
    again?.focus({ preventScroll: true });
  }

  return {
    unmount() {
      sending?.stop.abort();
      sending = null;
    },
  };
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

function pickers(t, photo, take) {
  const pick = (text, props, kind) => h("label", { class: `button picker ${kind}` },
    h("input", {
      type: "file", class: "unseen", ...props,
      on: {
        change: (event) => {
          const [file] = event.target.files;
          event.target.value = "";
          if (file) take(file);
        },
      },
    }),
    h("span", { text }));
  return [
    pick(t(photo ? "photo.other" : "photo.file"), { accept: ACCEPT }, photo ? "" : "primary"),
    pick(t("photo.camera"), { accept: "image/*", capture: "environment" }, "camera"),
  ];
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
