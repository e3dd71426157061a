// A loupe over the picture: one place at print scale, as it will be on paper. It is moved by
// dragging in it or with arrow keys, and never covers the place that it was opened at.

import { freshId, h } from "../../lib/browser/dom.js";
import { cornerOf } from "./place.js";
import { loupeGlass } from "./glass.js";
import { clamp } from "../../lib/geometry/crop.js";
import { pictureOf } from "../../state/state.js";

const LARGER = 3;
/** An arrow key moves by this share of what is seen. */
const KEY_STEP = 0.25;
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/**
 * @param {object} app
 * @param {{picture: function(): CanvasImageSource|null, box?: function(): DOMRect}} over `picture` is
 *   the whole picture as it is shown now; `box` is where it is on the screen, by default where the
 *   loupe's element is
 * @returns {{element: HTMLElement, open: function({x, y}), close: function(), sync: function(object),
 *   stop: function()}} `element` is put over the picture; places are in shares of the picture
 */
export function loupe(app, over) {
  const { t } = app;
  const glass = loupeGlass(app, over.picture);
  const keys = h("p", { class: "unseen", id: freshId("loupe-keys"), text: t("loupe.keys") });
  const sizes = [[1, "loupe.actual"], [LARGER, "loupe.larger"]].map(([size, key]) => h("button", {
    type: "button", class: "chip", data: { times: size }, on: { click: () => enlarge(size) },
  }, t(key)));
  const bar = h("div", { class: "loupe-bar" }, sizes,
    h("button", { type: "button", class: "chip", "aria-label": t("loupe.close"), on: { click: close } }, "✕"));
  const panel = h("div", { class: "loupe-panel", role: "group", "aria-label": t("loupe.title") }, glass.element, keys, bar, glass.trouble);
  const frame = h("div", { class: "loupe-frame", "aria-hidden": "true" });
  const element = h("div", { class: "loupe", hidden: true }, frame, panel);
  let centre = { x: 0.5, y: 0.5 };
  let times = 1;
  let sidePx = 0;
  let opener = null;
  let held = null;

  glass.element.setAttribute("aria-describedby", keys.id);
  element.addEventListener("keydown", pressed);
  glass.element.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    glass.element.setPointerCapture(event.pointerId);
    held = { x: event.clientX, y: event.clientY };
  });
  glass.element.addEventListener("pointermove", (event) => {
    if (!held) return;
    move(held.x - event.clientX, held.y - event.clientY);
    held = { x: event.clientX, y: event.clientY };
  });
  for (const ended of ["pointerup", "pointercancel"]) {
    glass.element.addEventListener(ended, () => {
      if (held) lay();
      held = null;
    });
  }
  const watch = new ResizeObserver(() => !element.hidden && lay());
  watch.observe(element);

  /** Lay the glass where it does not cover its place. */
  function lay() {
    const own = element.getBoundingClientRect();
    if (element.hidden || own.width === 0) return;
    const box = over.box?.() ?? own;
    const place = { x: box.left - own.left + centre.x * box.width, y: box.top - own.top + centre.y * box.height };
    const corner = cornerOf(own, place);
    ({ sidePx } = corner);
    panel.classList.toggle("right", corner.right);
    panel.classList.toggle("bottom", corner.bottom);
    Object.assign(glass.element.style, { width: `${sidePx}px`, height: `${sidePx}px` });
    look();
    glass.rest();
  }

  function look() {
    const seen = glass.look(centre, times, sidePx);
    ({ centre } = seen);
    const own = element.getBoundingClientRect();
    const box = over.box?.() ?? own;
    const { widthMm } = pictureOf(app.state);
    const scale = box.width / widthMm;
    const { left, top, width, height } = seen.partMm;
    Object.assign(frame.style, {
      left: `${box.left - own.left + left * scale}px`, top: `${box.top - own.top + top * scale}px`,
      width: `${width * scale}px`, height: `${height * scale}px`,
    });
  }

  /** Move what is seen by CSS pixels of the glass. */
  function move(right, down) {
    const { widthMm, heightMm } = pictureOf(app.state);
    const mm = 25.4 / 96 / times;
    centre = { x: clamp(centre.x + (right * mm) / widthMm, 0, 1), y: clamp(centre.y + (down * mm) / heightMm, 0, 1) };
    look();
  }

  function enlarge(size) {
    times = size;
    for (const button of sizes) button.setAttribute("aria-pressed", String(Number(button.dataset.times) === times));
    lay();
  }

  function pressed(event) {
    if (event.key === "Escape") {
      event.stopPropagation();
      close();
    }
    const [x, y] = ARROWS[event.key] ?? [0, 0];
    if ((!x && !y) || event.target !== glass.element) return;
    event.preventDefault();
    move(x * sidePx * KEY_STEP, y * sidePx * KEY_STEP);
    lay();
  }

  function close() {
    if (element.hidden) return;
    element.hidden = true;
    opener?.focus({ preventScroll: true });
  }

  return {
    element, close,
    /** Show a place. */
    open(place) {
      if (!app.state.photo) return;
      if (element.hidden) opener = document.activeElement;
      centre = place;
      element.hidden = false;
      enlarge(times);
      glass.element.focus({ preventScroll: true });
    },
    /** The state has changed. */
    sync(state) {
      if (!state.photo) close();
      else lay();
    },
    stop() {
      watch.disconnect();
      glass.stop();
    },
  };
}
