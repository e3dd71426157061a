// Close-ups: one place of the picture as it will be on paper, requested while a finger moves. The
// newest answer wins.

import * as api from "./service.js";
import { newestOnly } from "./live-plan.js";
import { pictureOfBlob, whileBusy } from "./print-preview.js";
import { specOf } from "../state/state.js";

/** The service's limits of the width in pixels. */
const LEAST_PX = 200;
const MOST_PX = 1600;

/** What changes every close-up: all that is drawn in the picture. */
export const closeUpKey = (state) => JSON.stringify([state.photo.referenceId, specOf(state)]);

/**
 * Request close-ups.
 * @param {{busy: function(boolean), picture: function(HTMLImageElement, object, string),
 *   problem: function(Error)}} handlers `picture` gets the newest one, decoded, the part in mm that
 *   it shows, and the key of the state that it shows
 * @returns {{ask: function(object, object, number), stop: function}} call
 *   `ask(state, partMm, widthPx)` after each change
 */
export function closeUps(handlers) {
  let wanted = "";

  const { ask, isSuperseded, stop } = newestOnly(async (request, signal) => {
    const { referenceId, spec, partMm, widthPx, key } = request;
    try {
      const { blob } = await whileBusy(
        () => api.preview(referenceId, spec, widthPx, signal, partMm), isSuperseded,
      );
      const image = await pictureOfBlob(blob);
      // Decoded, it is drawn without its address.
      URL.revokeObjectURL(image.src);
      if (!signal.aborted) handlers.picture(image, partMm, key);
    } catch (error) {
      if (signal.aborted || error.name === "AbortError" || isSuperseded()) return;
      // The fault may pass, so the same request is allowed again.
      wanted = "";
      handlers.problem(error);
    }
    if (!signal.aborted && !isSuperseded()) handlers.busy(false);
  });

  return {
    ask(state, partMm, widthPx) {
      const key = closeUpKey(state);
      const same = JSON.stringify([key, partMm, widthPx]);
      if (same === wanted) return;
      wanted = same;
      handlers.busy(true);
      ask({
        referenceId: state.photo.referenceId, spec: specOf(state), partMm, key,
        widthPx: Math.min(Math.max(widthPx, LEAST_PX), MOST_PX),
      });
    },
    stop,
  };
}
