// A picture that is enlarged and moved under the fingers: pinch and drag, wheel, double tap, keys,
// and buttons, which do all of it without a gesture (WCAG 2.2, 2.5.1 and 2.5.7).

import { h } from "../lib/dom.js";
import { clamp } from "../lib/geometry.js";

const MOST = 8;
const STEP = 1.6;
const WHEEL_ZOOM = 0.0016;
/** Firefox reports lines instead of pixels. */
const LINE_PX = 16;
const KEY_PX = 60;
/** A shorter movement is a tap. */
const TAP_PX = 8;
const MOVES = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

/**
 * @param {object} t the texts
 * @param {HTMLElement} content laid out in the middle of the place at its own size; it gets
 *   `--zoom`, so that labels and lines on it can keep their size
 * @param {object} how
 * @param {string} how.label Accessible name.
 * @param {function(): boolean} [how.busy] Whether one finger belongs to something else, as to drawing.
 * @param {function({x: number, y: number})} [how.tapped] A place was tapped, in shares of the content.
 * @param {function(number)} [how.zoomed] The enlargement has changed and come to rest.
 * @returns {{element: HTMLElement, zoom: function(): number, reset: function(), stop: function}}
 */
export function pictureView(t, content, { label, busy = () => false, tapped = () => {}, zoomed = () => {} }) {
  const moved = h("div", { class: "view-moved" }, content);
  const buttons = {
    less: button("−", "view.less", () => zoomBy(1 / STEP)),
    whole: button("⤢", "view.whole", reset),
    more: button("+", "view.more", () => zoomBy(STEP)),
  };
  const port = h("div", { class: "view-port", tabindex: 0, role: "group", "aria-label": label }, moved);
  const element = h("div", { class: "picture-view" }, port, h("div", { class: "view-buttons" }, Object.values(buttons)));
  const fingers = new Map();
  let at = { scale: 1, x: 0, y: 0 };
  let pressed = null;
  let resting = 0;

  function button(sign, name, click) {
    return h("button", { type: "button", class: "view-button", "aria-label": t(name), on: { click } }, sign);
  }

  /** Take an enlargement and a shift (px, of the middle), so that the picture never leaves the place. */
  function take({ scale, x, y }) {
    const next = clamp(scale, 1, MOST);
    const most = (inner, outer) => Math.max(0, (inner * next - outer) / 2);
    const [mostX, mostY] = [most(content.offsetWidth, port.clientWidth), most(content.offsetHeight, port.clientHeight)];
    at = { scale: next, x: clamp(x, -mostX, mostX), y: clamp(y, -mostY, mostY) };
    moved.style.transform = `translate(${at.x}px, ${at.y}px) scale(${at.scale})`;
    moved.style.setProperty("--zoom", at.scale);
    port.classList.toggle("enlarged", at.scale > 1);
    buttons.less.disabled = at.scale <= 1;
    buttons.whole.hidden = at.scale <= 1;
    buttons.more.disabled = at.scale >= MOST;
    clearTimeout(resting);
    resting = setTimeout(() => zoomed(at.scale), 150);
  }

  /** Enlarge about a point (px from the middle of the place), which stays where it is. */
  function zoomBy(factor, point = { x: 0, y: 0 }) {
    const scale = clamp(at.scale * factor, 1, MOST);
    const grown = scale / at.scale;
    take({ scale, x: point.x - (point.x - at.x) * grown, y: point.y - (point.y - at.y) * grown });
  }

  function reset() {
    take({ scale: 1, x: 0, y: 0 });
    // The button that was pressed is gone.
    if (document.activeElement === document.body || buttons.whole.hidden) port.focus({ preventScroll: true });
  }

  function fromMiddle(event) {
    const box = port.getBoundingClientRect();
    return { x: event.clientX - box.left - box.width / 2, y: event.clientY - box.top - box.height / 2 };
  }

  function press(event) {
    if (event.button !== 0 || fingers.size === 2) return;
    fingers.set(event.pointerId, fromMiddle(event));
    pressed = fingers.size === 1 ? { ...fromMiddle(event), id: event.pointerId } : null;
  }

  function drag(event) {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const after = fromMiddle(event);
    fingers.set(event.pointerId, after);
    const other = [...fingers].find(([id]) => id !== event.pointerId)?.[1];
    if (other) pinch(before, after, other);
    else if (!busy() && at.scale > 1) {
      // Only a drag takes the pointer, so that what lies on the picture can be tapped.
      if (pressed && Math.hypot(after.x - pressed.x, after.y - pressed.y) < TAP_PX) return;
      port.setPointerCapture(event.pointerId);
      take({ ...at, x: at.x + after.x - before.x, y: at.y + after.y - before.y });
    }
    if (pressed && Math.hypot(after.x - pressed.x, after.y - pressed.y) >= TAP_PX) pressed = null;
  }

  function pinch(before, after, other) {
    const apart = (place) => Math.max(Math.hypot(place.x - other.x, place.y - other.y), 1);
    const middle = (place) => ({ x: (place.x + other.x) / 2, y: (place.y + other.y) / 2 });
    const [from, to] = [middle(before), middle(after)];
    zoomBy(apart(after) / apart(before), from);
    take({ ...at, x: at.x + to.x - from.x, y: at.y + to.y - from.y });
  }

  function release(event) {
    fingers.delete(event.pointerId);
    if (event.type !== "pointerup" || pressed?.id !== event.pointerId) return;
    pressed = null;
    if (busy()) return;
    const box = content.getBoundingClientRect();
    const place = { x: (event.clientX - box.left) / box.width, y: (event.clientY - box.top) / box.height };
    if (place.x >= 0 && place.x <= 1 && place.y >= 0 && place.y <= 1) tapped(place);
  }

  function wheel(event) {
    event.preventDefault();
    zoomBy(Math.exp(-event.deltaY * (event.deltaMode === 1 ? LINE_PX : 1) * WHEEL_ZOOM), fromMiddle(event));
  }

  function key(event) {
    if (event.target !== port || event.ctrlKey || event.metaKey || event.altKey) return;
    const move = MOVES[event.key];
    if (move && at.scale > 1) take({ ...at, x: at.x + move[0] * KEY_PX, y: at.y + move[1] * KEY_PX });
    else if (event.key === "+" || event.key === "=") zoomBy(STEP);
    else if (event.key === "-" || event.key === "_") zoomBy(1 / STEP);
    else if (event.key === "0") reset();
    else return;
    event.preventDefault();
  }

  port.addEventListener("pointerdown", press);
  port.addEventListener("pointermove", drag);
  for (const end of ["pointerup", "pointercancel"]) port.addEventListener(end, release);
  port.addEventListener("wheel", wheel, { passive: false });
  port.addEventListener("keydown", key);
  const watch = new ResizeObserver(() => take(at));
  watch.observe(port);
  return {
    element,
    zoom: () => at.scale,
    reset: () => take({ scale: 1, x: 0, y: 0 }),
    stop() {
      clearTimeout(resting);
      watch.disconnect();
    },
  };
}
