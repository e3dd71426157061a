// A photo as it is framed, in small: what fills the picture, and outlines of protected areas.

import { svg } from "../lib/browser/dom.js";
import { imageTransform } from "../lib/geometry/crop.js";

const WIDE = 240;

/**
 * @param {{preview: string, widthPx: number, heightPx: number, alt: string}} photo
 * @param {object|null} frame lib/geometry/crop.js; null: the whole photo
 * @param {Array} protect in shares of the picture
 * @returns {SVGElement}
 */
export function framedPhoto({ preview, widthPx, heightPx, alt }, frame, protect = []) {
  const photo = { widthPx, heightPx };
  const shown = frame ?? { cx: 0.5, cy: 0.5, width: 1, height: 1, rotateDeg: 0 };
  const high = (WIDE * shown.height * heightPx) / (shown.width * widthPx);
  const image = { width: WIDE, height: (WIDE * heightPx) / widthPx };
  const box = ({ left, top, width, height }) => svg("rect", { class: "framed-area", x: left * WIDE, y: top * high, width: width * WIDE, height: height * high });
  return svg("svg", { class: "framed-photo", viewBox: `0 0 ${WIDE} ${high}`, role: "img", "aria-label": alt },
    svg("image", {
      href: preview, ...image, transform: imageTransform(shown, photo, image, { left: 0, top: 0, width: WIDE, height: high }),
    }), protect.map(box));
}
