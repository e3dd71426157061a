// The first look at a photo that is still on the device, without freezing the page. What the
// browser cannot decode (HEIC in most) is shown when the service has read it.

import { h } from "./dom.js";

/** Long enough for every easel, few enough pixels to be drawn in a moment. */
const PREVIEW_WIDTH_PX = 1200;

/**
 * @param {File} file
 * @param {string} name What it shows, for those who cannot see it.
 * @returns {Promise<HTMLCanvasElement|null>} null: this browser cannot
 */
export async function decodePhoto(file, name) {
  const bitmap = await reduced(file);
  if (!bitmap) return null;
  const canvas = h("canvas", { role: "img", "aria-label": name, width: bitmap.width, height: bitmap.height });
  // Hands the pixels over instead of copying them.
  canvas.getContext("bitmaprenderer").transferFromImageBitmap(bitmap);
  return canvas;
}

/** @returns {Promise<ImageBitmap|null>} */
function reduced(file) {
  return new Promise((resolve) => {
    const worker = new Worker("/js/lib/photo-decode-worker.js");
    const end = (bitmap) => {
      worker.terminate();
      resolve(bitmap);
    };
    worker.addEventListener("message", ({ data }) => end(data.bitmap));
    worker.addEventListener("error", () => end(null));
    worker.postMessage({ file, widthPx: PREVIEW_WIDTH_PX });
  });
}

/** SHA-256 of the bytes in hexadecimal; null where the browser does not give it (plain HTTP). */
export async function sha256Of(file) {
  if (!globalThis.crypto?.subtle) return null;
  const digest = await crypto.subtle.digest("SHA-256", await file.arrayBuffer());
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, "0")).join("");
}
