// A photo on its way to the service: looked for by its bytes, sent with its progress told,
// cancelled, or tried again after a line that dropped. The own photo's step, the tutor's board
// and the batch's one photo for all send alike.

import * as api from "./service.js";
import { fill, h } from "../lib/dom.js";
import { sha256Of } from "../lib/photo-decode.js";
import { writeSize } from "../lib/units.js";
import { problemText } from "../lib/words.js";

/** What a device may offer; the service judges the content itself. */
export const ACCEPT = "image/*,.heic,.heif,.avif,.webp,.tif,.tiff";

/** A photo whose plan would warn on paper no longer than this (A5) is told to be small. */
const SMALL_MM = 210;
/** As in the plan: fewer pixels give no line of a millimetre, and it is called soft. */
const PIXELS_PER_MM = 2;
const MEGA = 1e6;
/** No finer than anybody needs to know what is only about right. */
const ABOUT_MM = 5;

/** How large a photo is, in words that mean something for small ones too. */
export function pixelsText(t, width, height) {
  if (width * height < MEGA) return t("photo.pixels", { width, height });
  return t("photo.size", { width, height, mega: t.number((width * height) / MEGA, 1) });
}

/** A photo of few pixels is told what it is enough for; null for others. */
export function smallNotice(app, width, height) {
  const { t } = app;
  if (Math.max(width, height) >= SMALL_MM * PIXELS_PER_MM) return null;
  const about = (pixels) => Math.round(pixels / PIXELS_PER_MM / ABOUT_MM) * ABOUT_MM;
  const size = writeSize(about(width), about(height), app.state.paper.unit, t.language);
  return h("div", { class: "notice bad photo-small" }, h("strong", { text: t("photo.small") }), h("p", { text: t("photo.small-says", { size }) }));
}

/**
 * @param {object} app
 * @param {object} how
 * @param {Element} how.news where progress and problems are told
 * @param {string|null} [how.studentId] whose photo it is, where a tutor sends it
 * @param {function()} how.begun called when a photo sets out
 * @param {function(File, object, boolean)} how.kept called with the file, the service's
 *   document, and whether the service had it already
 * @param {function()} how.left called when nothing comes of it: cancelled, or refused
 * @returns {{take: function(File), stop: function}}
 */
export function photoUploader(app, { messages, studentId = null, onStart, onStored, onAbandoned }) {
  const { t } = app;
  let current = null;

  function take(file) {
    current?.stop.abort();
    current = { file, key: api.freshKey(), stop: new AbortController(), sha256: null, asItIs: false };
    send(current);
  }

  async function send(job) {
    onStart();
    const bar = progressOf(job);
    fill(messages, bar.element);
    try {
      const found = await findStored(job);
      const how = { key: job.key, signal: job.stop.signal, progress: bar.show, studentId, asItIs: job.asItIs };
      const taken = found ?? await api.uploadReference(job.file, how);
      if (job !== current) return;
      current = null;
      onStored(job.file, taken, found !== null);
    } catch (error) {
      if (job === current && error.name !== "AbortError") failed(job, error);
    }
  }

  /** The service's own copy, if it has these bytes; not being able to ask is no reason to stop. */
  async function findStored(job) {
    if (studentId !== null) return null;
    try {
      job.sha256 ??= await sha256Of(job.file);
      return job.sha256 && await api.findReference(job.sha256);
    } catch {
      return null;
    }
  }

  function progressOf(job) {
    const bar = h("progress", { max: 100, "aria-label": t("photo.sending") });
    const message = h("p", { class: "photo-going", text: t("photo.looking") });
    const stop = h("button", { type: "button", class: "button", on: { click: () => cancel(job) } }, t("photo.cancel"));
    let announced = 0;
    return {
      element: h("div", { class: "photo-sending" }, message, bar, stop),
      show(share) {
        const percent = Math.floor(share * 100);
        bar.value = percent;
        message.textContent = percent < 100 ? t("photo.going", { percent }) : t("photo.reading");
        if (percent - announced < 25) return;
        announced = percent;
        app.announce(message.textContent);
      },
    };
  }

  function cancel(job) {
    job.stop.abort();
    current = null;
    fill(messages);
    onAbandoned();
    app.announce(t("photo.cancelled"));
  }

  /** What is left of a damaged photo is taken only where somebody says so. */
  function uploadAsItIs(job) {
    current = { ...job, key: api.freshKey(), stop: new AbortController(), asItIs: true };
    send(current);
  }

  function offerAsItIs(job, error) {
    const percent = Math.round(100 * error.readableShare);
    if (error.code !== "reference-damaged" || percent < 1) return null;
    return [h("p", { text: t("photo.readable", { percent }) }),
      h("button", { type: "button", class: "button", on: { click: () => uploadAsItIs(job) } }, t("photo.as-it-is"))];
  }

  /** A line that dropped costs one tap; what is refused is over. */
  function failed(job, error) {
    const again = error.passing && h("button", { type: "button", class: "button primary", on: { click: () => send(job) } }, t("photo.again"));
    const heading = t(again ? "photo.dropped" : "photo.refused");
    const message = problemText(t, error);
    const notice = h("div", { class: "notice bad" }, h("strong", { text: heading }), h("p", { text: message }));
    fill(messages);
    if (again) {
      fill(messages, notice, h("div", { class: "button-row" }, again,
        h("button", { type: "button", class: "button", on: { click: () => cancel(job) } }, t("photo.cancel"))));
    } else {
      current = null;
      onAbandoned();
      notice.append(...(offerAsItIs(job, error) ?? []));
      messages.prepend(notice);
    }
    app.announce(`${heading} ${message}`, true);
    if (again) again.focus({ preventScroll: true });
  }

  return {
    take,
    stop() {
      current?.stop.abort();
      current = null;
    },
  };
}

/** Buttons that ask a device for a photo: from its files, or from its camera. */
export function pickers(t, hasOne, take) {
  return [
    picker(t(hasOne ? "photo.other" : "photo.file"), { accept: ACCEPT }, hasOne ? "" : "primary", take),
    picker(t("photo.camera"), { accept: "image/*", capture: "environment" }, "camera", take),
  ];
}

/** One such button. */
export function picker(text, props, kind, take) {
  return h("label", { class: `button picker ${kind}` },
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
}
