// The upload of a photo: searched by its bytes first, sent with its progress shown, cancelled, or
// repeated after a lost connection. Used by the photo step, the tutor's board and batches.

import * as api from "./service.js";
import { fill, h } from "../lib/browser/dom.js";
import { sha256Of } from "../lib/browser/photo-decode.js";
import { writeSize } from "../lib/texts/units.js";
import { problemText } from "../lib/texts/words.js";

/** Files to offer in the device's dialog; the service checks the content itself. */
export const ACCEPT = "image/*,.heic,.heif,.avif,.webp,.tif,.tiff";

/** A photo that is too coarse even for paper of this length (A5) is called small. */
const SMALL_MM = 210;
/** As in the plan: with fewer pixels, no line of a millimetre is sharp. */
const PIXELS_PER_MM = 2;
const MEGA = 1e6;
/** Sizes in the notice are rounded to this. */
const ABOUT_MM = 5;

/** The size of a photo in megapixels, or in pixels if it is small. */
export function pixelsText(t, width, height) {
  if (width * height < MEGA) return t("photo.pixels", { width, height });
  return t("photo.size", { width, height, mega: t.number((width * height) / MEGA, 1) });
}

/** A notice with the largest useful size of a small photo; null for others. */
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
 * @param {Element} how.messages shows progress and problems
 * @param {string|null} [how.studentId] the student, if a tutor uploads the photo
 * @param {function()} how.onStart called when an upload starts
 * @param {function(File, object, boolean)} how.onStored called with the file, the service's
 *   document, and whether the service had it already
 * @param {function()} how.onAbandoned called when the upload is cancelled or refused
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

  /** The service's copy, if it has these bytes; a failed search does not stop the upload. */
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

  /** Upload a damaged photo again, accepting the part that can be read. */
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

  /** After a lost connection offer another attempt; a refusal ends the upload. */
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

/** Buttons that choose a photo from the device's files or take one with its camera. */
export function pickers(t, hasOne, take) {
  return [
    picker(t(hasOne ? "photo.other" : "photo.file"), { accept: ACCEPT }, hasOne ? "" : "primary", take),
    picker(t("photo.camera"), { accept: "image/*", capture: "environment" }, "camera", take),
  ];
}

/** One of these buttons. */
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
