// The picture as the service will print it, asked for while choices change: the newest answer
// wins, and what was drawn stays to be seen until the next is there.

import * as api from "./service.js";
import { newestOnly } from "./live-plan.js";
import { specOf } from "../state/state.js";

/** Few widths, so that turning a phone or opening a drawer asks nothing anew. */
const WIDTHS_PX = [480, 800, 1200, 1600];
/** A service that has much to do is asked again so often, and after so long. */
const ATTEMPTS = 4;
const RETRY_AFTER_MS = 1500;

/** Styles that the page cannot draw by itself. */
export const isDrawn = ({ style }) => style === "outline" || style === "mixed" || style === "values";

/**
 * Ask for previews.
 * @param {{busy: function(boolean), picture: function(HTMLImageElement, number[]|null),
 *   problem: function(Error)}} hear `picture` gets the newest one, decoded, and where its
 *   tones part
 * @returns {{ask: function(object, number), stop: function}} `ask(state, widthPx)` whenever
 *   something changed; nothing is asked twice in a row
 */
export function livePreview(handlers) {
  let wanted = "";
  let address = "";

  const { ask, isSuperseded, stop } = newestOnly(async (request, signal) => {
    try {
      const { blob, thresholds } = await fetchWithRetries(request, signal);
      const image = await pictureOf(blob);
      if (signal.aborted) URL.revokeObjectURL(image.src);
      else showPicture(image, thresholds);
    } catch (error) {
      if (signal.aborted || error.name === "AbortError") return;
      if (!isSuperseded()) {
        // The same may be asked for again: what went wrong can pass.
        wanted = "";
        handlers.problem(error);
      }
    }
    if (!isSuperseded()) handlers.busy(false);
  });

  function showPicture(image, thresholds) {
    const before = address;
    address = image.src;
    handlers.picture(image, thresholds);
    if (before) URL.revokeObjectURL(before);
  }

  async function fetchWithRetries({ referenceId, spec, widthPx }, signal) {
    for (let attempt = 1; ; attempt += 1) {
      try {
        return await api.preview(referenceId, spec, widthPx, signal);
      } catch (error) {
        if (!error.passing || error.code === "offline" || attempt >= ATTEMPTS || isSuperseded()) throw error;
        await new Promise((resolve) => { setTimeout(resolve, RETRY_AFTER_MS); });
      }
    }
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

/** Seams and sheets are drawn by the page: changing them asks for no other picture. */
function requestOf(state, widthPx) {
  const spec = specOf(state);
  const { support, crop, rotate_deg: turn, tone, print } = spec;
  const width = WIDTHS_PX.find((one) => one >= widthPx) ?? WIDTHS_PX.at(-1);
  return {
    referenceId: state.photo.referenceId, spec, widthPx: width,
    key: JSON.stringify([state.photo.referenceId, support, crop, turn, tone, print?.mirror, width]),
  };
}

async function pictureOf(blob) {
  const image = new Image();
  image.alt = "";
  image.src = URL.createObjectURL(blob);
  await image.decode();
  return image;
}
