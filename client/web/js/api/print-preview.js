// The picture as the service will print it, requested while choices change: the newest answer
// wins, and the last picture stays visible until the next one has come.

import * as api from "./service.js";
import { newestOnly } from "./live-plan.js";
import { isLifted, isLined, specOf } from "../state/state.js";

/** Few widths, so that turning a phone or opening a drawer requests nothing new. */
const WIDTHS_PX = [480, 800, 1200, 1600];
/** Attempts, and the pause between them, while the service is busy. */
const ATTEMPTS = 4;
const RETRY_AFTER_MS = 1500;

/** What only the service can draw: lines, flat tones, and darks lifted for contours. */
export const isDrawn = (sheets) => isLined(sheets) || sheets.style === "values" || isLifted(sheets);

/**
 * Request previews.
 * @param {{busy: function(boolean), picture: function(HTMLImageElement, number[]|null),
 *   problem: function(Error)}} handlers `picture` gets the newest one, decoded, and the
 *   boundaries of its tones
 * @returns {{ask: function(object, number), stop: function}} call `ask(state, widthPx)` after
 *   each change; the same request is not sent twice in a row
 */
export function livePreview(handlers) {
  let wanted = "";
  let address = "";

  const { ask, isSuperseded, stop } = newestOnly(async (request, signal) => {
    try {
      const { referenceId, spec, widthPx } = request;
      const { blob, thresholds, tones } = await whileBusy(
        () => api.preview(referenceId, spec, widthPx, signal), isSuperseded,
      );
      const image = await pictureOfBlob(blob);
      if (signal.aborted) URL.revokeObjectURL(image.src);
      else showPicture(image, thresholds, tones);
    } catch (error) {
      if (signal.aborted || error.name === "AbortError") return;
      if (!isSuperseded()) {
        // The fault may pass, so the same request is allowed again.
        wanted = "";
        handlers.problem(error);
      }
    }
    if (!isSuperseded()) handlers.busy(false);
  });

  function showPicture(image, thresholds, tones) {
    const before = address;
    address = image.src;
    handlers.picture(image, thresholds, tones);
    if (before) URL.revokeObjectURL(before);
  }

  return {
    ask(state, widthPx) {
      const request = requestOf(state, widthPx);
      if (request.key === wanted) return;
      wanted = request.key;
      handlers.busy(true);
      ask(request);
    },
    stop() {
      stop();
      if (address) URL.revokeObjectURL(address);
    },
  };
}

/** The key has no seams and sheets, which the page draws: they need no other picture. */
function requestOf(state, widthPx) {
  const spec = specOf(state);
  const { support, crop, rotate_deg: turn, tone, print } = spec;
  const width = WIDTHS_PX.find((one) => one >= widthPx) ?? WIDTHS_PX.at(-1);
  return {
    referenceId: state.photo.referenceId, spec, widthPx: width,
    key: JSON.stringify([state.photo.referenceId, support, crop, turn, tone, print?.mirror, width]),
  };
}

/**
 * Fetch, and fetch again while the service is busy.
 * @param {function(): Promise} fetching
 * @param {function(): boolean} isSuperseded whether a newer request waits
 */
export async function whileBusy(fetching, isSuperseded) {
  for (let attempt = 1; ; attempt += 1) {
    try {
      return await fetching();
    } catch (error) {
      if (!error.passing || error.code === "offline" || attempt >= ATTEMPTS || isSuperseded()) throw error;
      await new Promise((resolve) => { setTimeout(resolve, RETRY_AFTER_MS); });
    }
  }
}

/** A picture that has come, decoded. */
export async function pictureOfBlob(blob) {
  const image = new Image();
  image.alt = "";
  image.src = URL.createObjectURL(blob);
  await image.decode();
  return image;
}
