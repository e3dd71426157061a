// The photo with four corner handles: large enough for a fingertip, moved by arrow keys too, with
// an enlarged view of the corner while it moves, since the finger hides it.

import { showPicture } from "../api/access.js";
import { h, svg } from "../lib/browser/dom.js";
import { clamp, fitted } from "../lib/geometry/crop.js";

/** Room around the photo for the handles at its edge. */
const RIM_PX = 24;
const KEY_STEP = 0.01;
const KEY_STEP_FINE = 0.001;
const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
/** The enlarged view: its size, and its scale relative to the photo on the screen. */
const LENS_PX = 116;
const LENS_ZOOM = 3;
export const CORNERS = ["top-left", "top-right", "bottom-right", "bottom-left"];

/**
 * @param {object} t
 * @param {{photo: object, describedBy: string, change: function(number, [number, number])}} how
 *   `change(index, [x, y])` is called with the requested place of a corner, in shares of the photo
 * @returns {{element, show: function(Array, boolean), image: HTMLImageElement, unmount: function}}
 *   `show(corners, usable)`
 */
export function cornerHandles(t, { photo, describedBy, change }) {
  const image = h("img", { class: "square-photo", alt: t("square.photo"), draggable: "false" });
  const shape = svg("polygon", { class: "square-line" });
  const halo = svg("polygon", { class: "square-halo" });
  const board = svg("svg", { "aria-hidden": "true" }, halo, shape);
  const lens = h("canvas", { class: "square-lens", width: LENS_PX * 2, height: LENS_PX * 2, hidden: true, "aria-hidden": "true" });
  const handles = CORNERS.map((_, index) => h("button", {
    type: "button", class: "corner-handle", "aria-describedby": describedBy,
    on: {
      pointerdown: (event) => press(event, index), pointermove: (event) => drag(event, index),
      pointerup: release, pointercancel: release, keydown: (event) => key(event, index),
      focus: () => { looked = index; drawLens(); }, blur: () => { looked = -1; drawLens(); },
    },
  }));
  const element = h("div", { class: "easel square-easel" }, image, board, handles, lens);
  element.style.setProperty("--proportion", photo.widthPx / photo.heightPx);
  let corners = [];
  let at = null;
  let looked = -1;
  let grip = null;

  const watch = new ResizeObserver(lay);
  watch.observe(element);
  image.addEventListener("load", () => drawLens());
  showPicture(image, photo.previewUrl);

  function lay() {
    const box = { width: element.clientWidth, height: element.clientHeight };
    if (!box.width) return;
    at = fitted(box, photo.widthPx / photo.heightPx, RIM_PX);
    for (const side of ["left", "top", "width", "height"]) image.style[side] = `${at[side]}px`;
    board.setAttribute("viewBox", `0 0 ${box.width} ${box.height}`);
    draw();
  }

  const px = ([x, y]) => [at.left + x * at.width, at.top + y * at.height];

  function draw() {
    if (!at || corners.length === 0) return;
    const points = corners.map((corner) => px(corner).join()).join(" ");
    for (const polygon of [halo, shape]) polygon.setAttribute("points", points);
    corners.forEach((corner, index) => {
      const [left, top] = px(corner);
      handles[index].style.left = `${left}px`;
      handles[index].style.top = `${top}px`;
      handles[index].setAttribute("aria-label", t("square.corner", {
        corner: t(`square.${CORNERS[index]}`), left: t.number(corner[0] * 100, 1), top: t.number(corner[1] * 100, 1),
      }));
    });
    drawLens();
  }

  function press(event, index) {
    if (event.button !== 0) return;
    const [x, y] = px(corners[index]);
    grip = { x: event.clientX - x, y: event.clientY - y };
    event.currentTarget.setPointerCapture(event.pointerId);
    looked = index;
    drawLens();
  }

  function drag(event, index) {
    if (!grip) return;
    change(index, [
      clamp((event.clientX - grip.x - at.left) / at.width, 0, 1), clamp((event.clientY - grip.y - at.top) / at.height, 0, 1)]);
  }

  /** Hide the enlarged view when the finger is lifted: it could cover the next corner. */
  function release() {
    grip = null;
    looked = -1;
    drawLens();
  }

  function key(event, index) {
    const direction = MOVES[event.key];
    if (!direction || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    looked = index;
    const step = event.shiftKey ? KEY_STEP_FINE : KEY_STEP;
    change(index, corners[index].map((share, axis) => clamp(share + direction[axis] * step, 0, 1)));
  }

  /** Draw the enlarged view, in the upper corner that is farther from the handle. */
  function drawLens() {
    lens.hidden = looked < 0 || !at || !image.naturalWidth;
    if (lens.hidden) return;
    const [x, y] = corners[looked];
    lens.classList.toggle("at-right", x < 0.5);
    const context = lens.getContext("2d");
    const side = lens.width;
    const perPx = image.naturalWidth / at.width / LENS_ZOOM;
    const seen = LENS_PX * perPx;
    context.fillStyle = "#171614";
    context.fillRect(0, 0, side, side);
    context.drawImage(image, x * image.naturalWidth - seen / 2, y * image.naturalHeight - seen / 2, seen, seen, 0, 0, side, side);
    drawEdges(context, side);
  }

  /** Draw the two edges that meet at the corner, and a cross on it. */
  function drawEdges(context, side) {
    const [x, y] = px(corners[looked]);
    const toLens = side / LENS_PX * LENS_ZOOM;
    for (const [width, colour] of [[5, "#fffdf8"], [2, "#b5482a"]]) {
      context.lineWidth = width;
      context.strokeStyle = colour;
      context.beginPath();
      for (const step of [1, 3]) {
        const [otherX, otherY] = px(corners[(looked + step) % 4]);
        context.moveTo(side / 2, side / 2);
        context.lineTo(side / 2 + (otherX - x) * toLens, side / 2 + (otherY - y) * toLens);
      }
      context.stroke();
    }
  }

  return {
    element, image,
    show(next, usable) {
      corners = next;
      element.classList.toggle("unusable", !usable);
      draw();
    },
    unmount: () => watch.disconnect(),
  };
}
