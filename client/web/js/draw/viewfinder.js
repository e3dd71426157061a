// The picture area of the frame step: a fixed window of the picture's proportion, with the photo
// that is moved, scaled and turned behind it. Touch, mouse, wheel and keys use the same functions
// of lib/geometry/crop.js.

import { showPicture } from "../api/access.js";
import { fill, h, svg } from "../lib/browser/dom.js";
import { fitted, imageTransform, movedFrame, zoomedFrame } from "../lib/geometry/crop.js";

/** Width of the cropped part of the photo that stays visible around the window. */
const RIM_PX = 26;
/** On narrow screens the picture is worth more. */
const NARROW_RIM_PX = 12;
const NARROW_PX = 600;
const KEY_STEP = 0.02;
const KEY_STEP_FINE = 0.002;
const KEY_ZOOM = 1.05;
const WHEEL_ZOOM = 0.0016;
/** Firefox reports lines instead of pixels. */
const LINE_PX = 16;
const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/**
 * @param {object} how
 * @param {string} how.label
 * @param {string} how.describedBy Id of the text that describes the keys.
 * @param {function(object)} how.change Called with the requested frame, which may not fit the photo.
 * @returns {{element, show: function(object), unmount: function}}
 *   `show({frame, photo, proportion, guides})`
 */
export function viewfinder({ label, describedBy, change }) {
  const image = h("img", { class: "finder-photo", alt: "", draggable: "false" });
  const shade = h("div", { class: "finder-shade" });
  const window_ = h("div", { class: "finder-window" });
  const element = h("div", {
    class: "easel finder", tabindex: 0, role: "application", "aria-label": label, "aria-describedby": describedBy,
  }, image, shade, window_);
  const fingers = new Map();
  let now = null;
  let at = null;
  let box = null;
  let drawing = 0;

  const watch = new ResizeObserver(() => {
    measure();
    if (now) draw();
  });
  watch.observe(element);
  image.addEventListener("load", () => now && draw());
  element.addEventListener("pointerdown", press);
  element.addEventListener("pointermove", drag);
  for (const end of ["pointerup", "pointercancel"]) element.addEventListener(end, release);
  element.addEventListener("wheel", wheel, { passive: false });
  element.addEventListener("keydown", key);

  /** Show a frame with the next picture of the screen: fingers move more often than that. */
  function show(next) {
    now = next;
    const { photo, proportion } = now;
    if (image.dataset.of !== photo.previewUrl) {
      image.dataset.of = photo.previewUrl;
      showPicture(image, photo.previewUrl);
    }
    // What is shown first is in its place at once.
    if (!at) measure();
    if (!box?.width) return;
    if (!at) draw();
    at = placed(box, proportion);
    if (!drawing) drawing = requestAnimationFrame(draw);
  }

  function measure() {
    box = { width: element.clientWidth, height: element.clientHeight };
  }

  function draw() {
    cancelAnimationFrame(drawing);
    drawing = 0;
    if (!box?.width) return;
    const { photo, frame, proportion, guides } = now;
    at = placed(box, proportion);
    // A point of the screen for each pixel: a larger layer would have to be moved for nothing.
    const width = (image.naturalWidth || 1000) / (window.devicePixelRatio || 1);
    image.style.width = `${width}px`;
    image.style.height = `${(width * photo.heightPx) / photo.widthPx}px`;
    image.style.transform = imageTransform(frame, photo, { width }, at);
    for (const side of ["left", "top", "width", "height"]) window_.style[side] = `${at[side]}px`;
    shade.style.borderWidth = `${at.top}px ${at.left}px`;
    if (window_.dataset.guides !== guides.join()) {
      window_.dataset.guides = guides.join();
      fill(window_, guideLines(guides));
    }
  }

  function move(rightPx, downPx) {
    change(movedFrame(now.frame, now.photo, rightPx / at.width, downPx / at.height));
  }

  function zoom(factor, place) {
    change(zoomedFrame(now.frame, now.photo, factor, place?.x, place?.y));
  }

  function placeOf(event) {
    const box = element.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  }

  function shareOf({ x, y }) {
    return { x: (x - at.left) / at.width, y: (y - at.top) / at.height };
  }

  function press(event) {
    if (event.button !== 0 || fingers.size === 2) return;
    element.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, placeOf(event));
    element.classList.add("held");
  }

  function drag(event) {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const after = placeOf(event);
    const [other] = [...fingers].filter(([id]) => id !== event.pointerId).map(([, place]) => place);
    fingers.set(event.pointerId, after);
    if (!other) {
      move(before.x - after.x, before.y - after.y);
      return;
    }
    const middle = (place) => ({ x: (place.x + other.x) / 2, y: (place.y + other.y) / 2 });
    const [from, to] = [middle(before), middle(after)];
    zoom(apart(before, other) / Math.max(apart(after, other), 1), shareOf(from));
    move(from.x - to.x, from.y - to.y);
  }

  function release(event) {
    fingers.delete(event.pointerId);
    element.classList.toggle("held", fingers.size > 0);
  }

  function wheel(event) {
    event.preventDefault();
    const px = event.deltaY * (event.deltaMode === 1 ? LINE_PX : 1);
    zoom(Math.exp(px * WHEEL_ZOOM), shareOf(placeOf(event)));
  }

  function key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const step = event.shiftKey ? KEY_STEP_FINE : KEY_STEP;
    const direction = MOVES[event.key];
    if (direction) change(movedFrame(now.frame, now.photo, direction[0] * step, direction[1] * step));
    else if (event.key === "+" || event.key === "=") zoom(1 / KEY_ZOOM);
    else if (event.key === "-" || event.key === "_") zoom(KEY_ZOOM);
    else return;
    event.preventDefault();
  }

  return {
    element,
    show,
    unmount() {
      cancelAnimationFrame(drawing);
      watch.disconnect();
    },
  };
}

/** Where the picture is in its place. */
function placed(box, proportion) {
  return fitted(box, proportion, box.width < NARROW_PX ? NARROW_RIM_PX : RIM_PX);
}

function apart(one, other) {
  return Math.hypot(one.x - other.x, one.y - other.y);
}

/** Lines that help to place things; each twice, pale on dark, to be seen on any photo. */
function guideLines(guides) {
  const lines = [];
  if (guides.includes("thirds")) {
    for (const share of [100 / 3, 200 / 3]) lines.push([share, 0, share, 100], [0, share, 100, share]);
  }
  if (guides.includes("diagonals")) lines.push([0, 0, 100, 100], [100, 0, 0, 100]);
  const drawn = (kind) => lines.map(([x1, y1, x2, y2]) => svg("line", { class: kind, x1, y1, x2, y2 }));
  return svg("svg", { viewBox: "0 0 100 100", preserveAspectRatio: "none", "aria-hidden": "true" },
    drawn("guide-under"), drawn("guide-over"));
}
