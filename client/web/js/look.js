// The first look at a photo that is still on the device. Decoding and reducing happen off the
// page's own thread, so that a large photo never freezes it; what the browser cannot decode
// (HEIC in most) is shown when the service has read it.

import { h } from "./dom.js";

/** Long enough for every easel, few enough pixels to be drawn in a moment. */
const LOOK_PX = 1200;

/**
 * @param {File} file
 * @param {string} name What it shows, for those who cannot see it.
 * @returns {Promise<HTMLCanvasElement|null>} null: this browser cannot
 */
export async function firstLook(file, name) {
  let bitmap;
  try {
    bitmap = await createImageBitmap(file, { resizeWidth: LOOK_PX, resizeQuality: "medium" });
  } catch {
    return null;
  }
  const canvas = h("canvas", { role: "img", "aria-label": name, width: bitmap.width, height: bitmap.height });
  // Hands the pixels over instead of copying them.
  canvas.getContext("bitmaprenderer").transferFromImageBitmap(bitmap);
  return canvas;
}

/** SHA-256 of the bytes in hexadecimal; null where the browser does not give it (plain HTTP). */
export async function sha256Of(file) {
  if (!globalThis.crypto?.subtle) return null;
  const digest = await crypto.subtle.digest("SHA-256", await file.arrayBuffer());
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, "0")).join("");
}
