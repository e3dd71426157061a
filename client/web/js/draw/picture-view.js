// A picture that is enlarged and moved under the fingers: pinch and drag, wheel, keys, and
// buttons, which do all of it without a gesture (WCAG 2.2, 2.5.1 and 2.5.7).

import { h } from "../lib/browser/dom.js";
import { lineIcon } from "../controls/screen/bench.js";
import { clamp } from "../lib/geometry/crop.js";

const MOST = 8;
const STEP = 1.6;
const WHEEL_ZOOM = 0.0016;
/** Firefox reports lines instead of pixels. */
const LINE_PX = 16;
const KEY_PX = 60;
/** A shorter movement is a tap. */
const TAP_PX = 8;
/** The enlargement has come to rest after this time. */
const REST_MS = 150;
const MOVES = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
const WHOLE = { scale: 1, x: 0, y: 0 };

/**
 * @param {object} t the texts
 * @param {HTMLElement} content laid out in the middle of the place at its own size; it gets
 *   `--zoom`, so that labels and lines on it can keep their size
 * @param {object} how
 * @param {string} how.label Accessible name.
 * @param {function(): boolean} [how.busy] Whether one finger belongs to something else, as to drawing.
 * @param {function({x: number, y: number})} [how.tapped] A place was tapped, in shares of the content.
 * @param {function(number)} [how.zoomed] The enlargement has come to rest.
 * @param {function(object)} [how.moved] What is seen has changed; another view may `follow` it.
 * @returns {{element: HTMLElement, buttons: HTMLElement, follow: function(object), reset: function, stop: function}}
 *   `element` fills its place
 */
export function pictureView(t, content, {
  label, busy = () => false, tapped = () => {}, zoomed = () => {}, moved = () => {},
}) {
  const inner = h("div", { class: "view-moved" }, content);
  const less = button("−", "view.less", () => zoomBy(1 / STEP));
  const whole = button(lineIcon("M4 9V4h5", "M15 4h5v5", "M20 15v5h-5", "M9 20H4v-5"), "view.whole", reset);
  const more = button("+", "view.more", () => zoomBy(STEP));
  const buttons = h("div", { class: "view-buttons", role: "group", "aria-label": label }, less, whole, more);
  const port = h("div", { class: "view-port", tabindex: 0, role: "group", "aria-label": label }, inner);
  const fingers = new Map();
  let at = WHOLE;
  let shownScale = 0;
  let pressed = null;
  let resting = 0;

  function button(sign, name, click) {
    return h("button", { type: "button", class: "view-button", "aria-label": t(name), on: { click } }, sign);
  }

  /** Take an enlargement and a shift (px, of the middle), so that the picture never leaves the place. */
  function take({ scale, x, y }) {
    const next = clamp(scale, 1, MOST);
    const most = (side, outer) => Math.max(0, (side * next - outer) / 2);
    const [mostX, mostY] = [most(content.offsetWidth, port.clientWidth), most(content.offsetHeight, port.clientHeight)];
    at = { scale: next, x: clamp(x, -mostX, mostX), y: clamp(y, -mostY, mostY) };
    inner.style.transform = `translate(${at.x}px, ${at.y}px) scale(${at.scale})`;
    if (at.scale === shownScale) return;
    shownScale = at.scale;
    inner.style.setProperty("--zoom", at.scale);
    port.classList.toggle("enlarged", at.scale > 1);
    // A button with the focus that was disabled would lose it.
    for (const [one, over] of [[less, at.scale <= 1], [whole, at.scale <= 1], [more, at.scale >= MOST]]) {
      one.setAttribute("aria-disabled", String(over));
    }
    clearTimeout(resting);
    resting = setTimeout(() => zoomed(at.scale), REST_MS);
  }

  function change(next) {
    take(next);
    moved(at);
  }

  /** Enlarge about a point (px from the middle of the place), which stays where it is. */
  function zoomBy(factor, point = { x: 0, y: 0 }) {
    const scale = clamp(at.scale * factor, 1, MOST);
    const grown = scale / at.scale;
    change({ scale, x: point.x - (point.x - at.x) * grown, y: point.y - (point.y - at.y) * grown });
  }

  function reset() {
    change(WHOLE);
  }

  function fromMiddle(event) {
    const box = port.getBoundingClientRect();
    return { x: event.clientX - box.left - box.width / 2, y: event.clientY - box.top - box.height / 2 };
  }

  function press(event) {
    if (event.button !== 0 || fingers.size === 2) return;
    const place = fromMiddle(event);
    fingers.set(event.pointerId, place);
    // What lies on the picture, as a protected area, has taps of its own.
    const own = event.target.closest("button, a, [role=button]");
    pressed = fingers.size === 1 && !own ? { ...place, id: event.pointerId } : null;
  }

  function drag(event) {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const after = fromMiddle(event);
    const other = [...fingers].find(([id]) => id !== event.pointerId)?.[1];
    if (other) {
      pressed = null;
      pinch(before, after, other);
    } else if (pressed && Math.hypot(after.x - pressed.x, after.y - pressed.y) < TAP_PX) {
      return;
    } else if (!busy() && at.scale > 1) {
      // Only a drag takes the pointer, so that what lies on the picture can be tapped.
      if (pressed) port.setPointerCapture(event.pointerId);
      change({ ...at, x: at.x + after.x - before.x, y: at.y + after.y - before.y });
    }
    pressed = null;
    fingers.set(event.pointerId, after);
  }

  function pinch(before, after, other) {
    const apart = (place) => Math.max(Math.hypot(place.x - other.x, place.y - other.y), 1);
    const middle = (place) => ({ x: (place.x + other.x) / 2, y: (place.y + other.y) / 2 });
    const [from, to] = [middle(before), middle(after)];
    zoomBy(apart(after) / apart(before), from);
    change({ ...at, x: at.x + to.x - from.x, y: at.y + to.y - from.y });
  }

  function release(event) {
    fingers.delete(event.pointerId);
    const tap = event.type === "pointerup" && pressed?.id === event.pointerId;
    pressed = null;
    if (!tap || busy()) return;
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
    if (move) change({ ...at, x: at.x + move[0] * KEY_PX, y: at.y + move[1] * KEY_PX });
    else if (event.key === "+" || event.key === "=") zoomBy(STEP);
    else if (event.key === "-" || event.key === "_") zoomBy(1 / STEP);
    else if (event.key === "0") reset();
    else if (event.key === "Enter") tapped({ x: 0.5 - at.x / (content.offsetWidth * at.scale), y: 0.5 - at.y / (content.offsetHeight * at.scale) });
    else return;
    event.preventDefault();
  }

  port.addEventListener("pointerdown", press);
  port.addEventListener("pointermove", drag);
  for (const end of ["pointerup", "pointercancel", "pointerleave"]) port.addEventListener(end, release);
  port.addEventListener("wheel", wheel, { passive: false });
  port.addEventListener("keydown", key);
  const watch = new ResizeObserver(() => take(at));
  watch.observe(port);
  take(at);
  return {
    element: port,
    buttons,
    follow: take,
    reset,
    stop() {
      clearTimeout(resting);
      watch.disconnect();
    },
  };
}
