// The picture of a pack that is not made yet, as it will be printed, under the pieces of its plan:
// those that are made are clear, the others veiled.

import * as api from "../api/service.js";
import { fill, h, svg } from "../lib/browser/dom.js";

const WIDTH_PX = 800;
/** The picture that was fetched last: it is the same before and while a pack is made. */
let last = { key: "", url: "" };

/**
 * @param {string} referenceId
 * @param {object} spec
 * @returns {{element: HTMLElement, show: function(object, number|null)}} `show(plan, done)` lays the plan over it;
 *   `done` pieces are clear, all of them where it is null
 */
export function packPicture(referenceId, spec) {
  const image = h("img", { alt: "", hidden: true });
  const pieces = svg("svg", { class: "pieces", "aria-hidden": "true", preserveAspectRatio: "none" });
  const element = h("div", { class: "pack-picture" }, h("div", { class: "pack-sheet" }, image, pieces));
  const { width_mm: wide, height_mm: high, border_mm: border = 0 } = spec.support;
  frame(wide - 2 * border, high - 2 * border);
  fetchPicture(referenceId, spec).then((url) => {
    image.src = url;
    image.hidden = false;
  }).catch(() => {
    // Without it there is blank paper under the pieces.
  });

  function frame(width, height) {
    element.style.setProperty("--wide", width);
    element.style.setProperty("--high", height);
    pieces.setAttribute("viewBox", `0 0 ${width} ${height}`);
  }

  function show(plan, done = null) {
    frame(plan.picture.width_mm, plan.picture.height_mm);
    const ordered = [...plan.pieces].sort((one, other) => one.page - other.page);
    fill(pieces, ordered.map(({ picture_rect_mm: { left, top, width, height } }, index) => svg("rect", {
      x: left, y: top, width, height, class: done !== null && index >= done ? "veiled" : "clear",
    })));
  }

  return { element, show };
}

/** The address of the picture as it will be printed. */
async function fetchPicture(referenceId, spec) {
  const { support, crop, rotate_deg: turn, tone, print } = spec;
  const key = JSON.stringify([referenceId, support, crop, turn, tone, print?.mirror]);
  if (key !== last.key) {
    const { blob } = await api.preview(referenceId, spec, WIDTH_PX);
    URL.revokeObjectURL(last.url);
    last = { key, url: URL.createObjectURL(blob) };
  }
  return last.url;
}
