// A preview of a photo that is still on the device, without freezing the page. A format that the
// browser cannot decode (HEIC in most) is shown after the service has decoded it.

import { h } from "./dom.js";

/** Wide enough for every screen, small enough to be drawn at once. */
const PREVIEW_WIDTH_PX = 1200;

/**
 * @param {File} file
 * @param {string} name Accessible name.
 * @returns {Promise<HTMLCanvasElement|null>} null: this browser cannot decode it
 */
export async function decodePhoto(file, name) {
  const bitmap = await reduced(file);
  if (!bitmap) return null;
  const canvas = h("canvas", { role: "img", "aria-label": name, width: bitmap.width, height: bitmap.height });
  // Transfers the pixels instead of copying them.
  canvas.getContext("bitmaprenderer").transferFromImageBitmap(bitmap);
  return canvas;
}

/** @returns {Promise<ImageBitmap|null>} */
function reduced(file) {
  return new Promise((resolve) => {
    const worker = new Worker("/js/lib/browser/photo-decode-worker.js");
    const end = (bitmap) => {
      worker.terminate();
      resolve(bitmap);
    };
    worker.addEventListener("message", ({ data }) => end(data.bitmap));
    worker.addEventListener("error", () => end(null));
    worker.postMessage({ file, widthPx: PREVIEW_WIDTH_PX });
  });
}

/** SHA-256 of the bytes in hexadecimal; null where the browser has no digest (plain HTTP). */
export async function sha256Of(file) {
  if (!globalThis.crypto?.subtle) return null;
  const digest = await crypto.subtle.digest("SHA-256", await file.arrayBuffer());
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, "0")).join("");
}
