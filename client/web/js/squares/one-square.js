// One square of the picture, as large as the screen allows, with a little of its neighbours: what
// is in it is drawn into the same square of the support. Ticks at the quarters of its sides show
// where a line crosses them.

import { fill, h, svg } from "../lib/browser/dom.js";
import { allSquares, beside, placeOf, squareName } from "./grid-places.js";

/** How much of the neighbours is seen, in sides of a square. */
const AROUND = 0.14;
/** A finger that moves farther swipes to a neighbour. */
const SWIPE_PX = 40;
const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
/** Edges, as they lie on the screen. */
const EDGES = { left: [-1, 0], right: [1, 0], top: [0, -1], bottom: [0, 1] };

/**
 * @param {object} app
 * @param {object} how
 * @param {{grid, picture}} how.plan
 * @param {string} how.address of the picture
 * @param {{column, row}} how.first
 * @param {function(): Object<string, boolean>} how.done names of squares that are drawn
 * @param {function(string, boolean)} how.mark
 * @param {function({column, row})} how.shown
 * @param {function()} how.leave back to the whole picture
 * @returns {{element: HTMLElement, unmount: function()}}
 */
export function oneSquare(app, { plan, address, first, done, mark, shown, leave }) {
  const { t } = app;
  const squares = allSquares(plan);
  const image = h("img", { src: address, alt: "", draggable: "false" });
  const over = svg("svg", { "aria-hidden": "true" });
  const port = h("div", { class: "square-port" }, image, over);
  const edges = Object.fromEntries(Object.keys(EDGES).map((edge) => [edge, h("button", {
    type: "button", class: `square-edge ${edge}`, on: { click: () => step(EDGES[edge]) },
  })]));
  const stand = h("div", { class: "square-one", on: { pointerdown: down, pointerup: up, pointercancel: () => { from = null; } } },
    port, Object.values(edges));
  const name = h("h2", { class: "square-name" });
  const sum = h("p", { class: "small", role: "status" });
  const quarters = h("button", {
    type: "button", class: "button square-tool", "aria-pressed": "false",
    on: { click: () => { inQuarters = !inQuarters; draw(); } },
  }, t("bysquares.quarters"));
  const next = h("button", { type: "button", class: "button primary studio-next", on: { click: onward } });
  const back = h("button", { type: "button", class: "button studio-back", on: { click: () => go(squares[index() - 1] ?? at) } }, t("common.back"));
  const element = h("div", { class: "square-view", on: { keydown: pressed } },
    h("h1", { class: "unseen", tabindex: "-1", text: t("bysquares.title") }),
    h("div", { class: "square-head" }, name, sum,
      h("div", { class: "square-tools" }, quarters, h("button", { type: "button", class: "button square-tool", on: { click: leave } }, t("bysquares.whole")))),
    stand, h("div", { class: "studio-foot" }, app.state.leftHanded ? [next, back] : [back, next]));
  const watch = new ResizeObserver(draw);
  let at = first;
  let from = null;
  let inQuarters = false;
  watch.observe(stand);
  draw();

  function index() {
    return squares.findIndex(({ column, row }) => column === at.column && row === at.row);
  }

  function go(to) {
    at = to;
    shown(at);
    draw();
    app.announce(t("bysquares.square", { name: squareName(at) }));
  }

  function step(way) {
    const to = beside(plan, at, way);
    if (to) go(to);
  }

  function onward() {
    mark(squareName(at), true);
    const to = squares[index() + 1];
    if (to) go(to);
    else leave();
  }

  function pressed(event) {
    const way = WAYS[event.key];
    if (!way) return;
    event.preventDefault();
    step(way);
  }

  function down(event) {
    from = [event.clientX, event.clientY];
  }

  /** A finger that moves to the left brings the square at the right. */
  function up(event) {
    if (!from) return;
    const [across, along] = [from[0] - event.clientX, from[1] - event.clientY];
    from = null;
    if (Math.max(Math.abs(across), Math.abs(along)) < SWIPE_PX) return;
    step(Math.abs(across) > Math.abs(along) ? [Math.sign(across), 0] : [0, Math.sign(along)]);
  }

  function draw() {
    const place = placeOf(plan, at);
    const { square_mm: side } = plan.grid;
    const around = side * AROUND;
    const [wide, high] = [stand.clientWidth, stand.clientHeight];
    if (!wide || !high) return;
    const scale = Math.min(wide / (place.width + 2 * around), high / (place.height + 2 * around));
    const [left, top] = [(wide / scale - place.width) / 2, (high / scale - place.height) / 2].map((mm) => mm * scale);
    image.style.width = `${plan.picture.width_mm * scale}px`;
    image.style.height = `${plan.picture.height_mm * scale}px`;
    image.style.transform = `translate(${left - place.left * scale}px, ${top - place.top * scale}px)`;
    drawOver({ left, top, width: place.width * scale, height: place.height * scale }, side * scale);
    for (const [edge, way] of Object.entries(EDGES)) {
      const to = beside(plan, at, way);
      edges[edge].hidden = !to;
      edges[edge].textContent = to ? squareName(to) : "";
      edges[edge].setAttribute("aria-label", to ? t("bysquares.go", { name: squareName(to) }) : "");
    }
    drawWords();
  }

  /** A veil over the neighbours, the square's own edge, and its quarters. */
  function drawOver({ left, top, width, height }, side) {
    const [wide, high] = [stand.clientWidth, stand.clientHeight];
    const inner = `M${left} ${top}h${width}v${height}h${-width}Z`;
    const places = [0.25, 0.5, 0.75].map((share) => share * side);
    const tick = Math.min(side * 0.04, 14);
    const ticks = [
      ...places.filter((x) => x < width).map((x) => `M${left + x} ${top}v${inQuarters ? height : tick}M${left + x} ${top + height}v${-tick}`),
      ...places.filter((y) => y < height).map((y) => `M${left} ${top + y}h${inQuarters ? width : tick}M${left + width} ${top + y}h${-tick}`),
    ].join("");
    over.setAttribute("viewBox", `0 0 ${wide} ${high}`);
    fill(over,
      svg("path", { class: "square-veil", "fill-rule": "evenodd", d: `M0 0H${wide}V${high}H0Z${inner}` }),
      svg("path", { class: "quarter-halo", d: ticks }), svg("path", { class: "quarter-line", d: ticks }),
      svg("path", { class: "square-frame-halo", d: inner }), svg("path", { class: "square-frame", d: inner }));
  }

  function drawWords() {
    const drawn = Boolean(done()[squareName(at)]);
    const count = squares.filter((one) => done()[squareName(one)]).length;
    name.textContent = squareName(at);
    name.classList.toggle("done", drawn);
    sum.textContent = t("bysquares.progress", { done: String(count), count: squares.length });
    quarters.setAttribute("aria-pressed", String(inQuarters));
    fill(next, t(drawn ? "common.next" : "bysquares.drawn"), h("span", { class: "arrow", "aria-hidden": "true" }, " →"));
    back.setAttribute("aria-disabled", String(index() === 0));
  }

  return { element, unmount: () => watch.disconnect() };
}
