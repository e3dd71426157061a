// The picture area of the sheets step: the picture as it is printed, the photo beside it or in its
// place, and the same plan, grid and protected areas over both.

import { frame } from "../api/access.js";
import { fill, h, svg } from "../lib/dom.js";
import { choice, toggle } from "../controls/fields.js";
import { loupe } from "./loupe.js";
import { planBoard } from "./plan-board.js";
import { isDrawn, livePreview } from "../api/print-preview.js";
import { mirroredArea } from "../lib/protected-areas.js";
import { proportionOf, protectOf } from "../state/state.js";
import { problemText } from "../lib/words.js";

const VIEWS = ["photo", "print", "both"];
/** Screens from this width on have room for two pictures. */
const ROOMY = "(min-width: 768px) and (min-height: 600px)";
/** Height of the elements above and below two pictures (css/drawing-aids.css). */
const CHROME_PX = 290;
/** Limit of the width of a preview: more is not visible, and takes longer to load. */
const MOST_DENSE = 2;

/**
 * @param {object} app
 * @param {{thresholds: function(number[], number[]|null)}} handlers called with the thresholds
 *   that the service found, and the printed greys
 * @returns {{element, tape: HTMLElement, board: SVGElement, areas: function, show: function(object|null),
 *   sync: function(object), load: function(string): Promise, stop: function}}
 */
export function sheetsView(app, handlers) {
  const { t } = app;
  const main = planBoard(app, t("sheets.board"), () => ask(app.state));
  const othersAreas = svg("g");
  const sign = h("span", { class: "plan-sign", hidden: true, "aria-hidden": "true" }, t("aids.drawing"));
  const trouble = h("p", { class: "small plan-trouble", role: "status" });
  const views = choice("view", t("aids.view"), VIEWS.map((one) => [one, t(`aids.view-${one}`)]), "print",
    (view) => app.update({ view }), { hideLegend: true });
  const pair = h("div", { class: "plan-pair" }, figure(main, t("aids.view-print")));
  const tape = toggle(t("sheets.show-tape"), false, (is) => each((board) => board.options({ tape: is })));
  const closeUp = loupe(app, { picture: main.shown });
  const near = h("button", { type: "button", class: "chip", on: { click: () => closeUp.open({ x: 0.5, y: 0.5 }) } }, t("loupe.title"));
  const element = h("div", { class: "sheets-easel" }, pair, trouble, h("div", { class: "view-row" }, views, near));
  const roomy = matchMedia(ROOMY);
  let other = null;
  let address = "";
  let plan = null;
  const previews = livePreview({
    busy(is) {
      sign.hidden = !is;
      main.element.setAttribute("aria-busy", String(is));
    },
    picture(image, thresholds, tones) {
      trouble.textContent = "";
      main.print(image);
      if (thresholds) handlers.thresholds(thresholds, tones);
    },
    problem(error) {
      trouble.textContent = t("aids.no-preview", { why: problemText(t, error) });
    },
  });

  main.element.append(sign, closeUp.element);
  openByTap(main.board, closeUp);
  roomy.addEventListener("change", turned);
  // On a phone the picture is sticky; it must not cover the element with the focus.
  const stuck = new ResizeObserver(() => {
    arrange();
    const stays = getComputedStyle(element.parentElement ?? element).position === "sticky";
    document.documentElement.style.setProperty("--stuck", `${stays ? element.offsetHeight : 0}px`);
  });
  stuck.observe(element);

  function figure(board, name) {
    return h("figure", { class: "plan-figure" }, board.element, h("figcaption", { class: "small", "aria-hidden": "true", text: name }));
  }

  const each = (act) => [main, other?.board].filter(Boolean).forEach(act);

  /** Place two pictures so that they are larger; on a phone, so that more of the page is visible. */
  function arrange() {
    const proportion = app.state.photo ? proportionOf(app.state) : 1;
    const { clientWidth: width } = element;
    const height = (frame?.viewPx() ?? window.innerHeight) - CHROME_PX;
    const beside = Math.min(width / 2 / proportion, height);
    const stacked = Math.min(width / proportion, height / 2);
    pair.classList.toggle("stacked", roomy.matches && width > 0 ? stacked > beside : proportion >= 1);
  }

  /** Add the photo beside the print, or remove it. */
  function showOther(is) {
    if (is && !other) {
      const board = planBoard(app, t("aids.photo-board"), sameAreas);
      board.areas({ layer: othersAreas, resize: () => {} });
      board.options({ tape: tape.querySelector("input").checked });
      board.show(plan);
      board.load(address).catch(() => {});
      openByTap(board.board, closeUp);
      other = { board, figure: figure(board, t("aids.view-photo")) };
    }
    if (is && !other.figure.isConnected) pair.prepend(other.figure);
    else if (!is) other?.figure.remove();
  }

  function turned() {
    if (app.state.photo) sync(app.state);
  }

  /** The view that the person chose; by default the one that suits style and screen. */
  function viewOf({ view, sheets }) {
    return view ?? (isDrawn(sheets) && roomy.matches ? "both" : "print");
  }

  function sync(state) {
    const view = viewOf(state);
    for (const radio of views.querySelectorAll("input")) radio.checked = radio.value === view;
    pair.classList.toggle("both", view === "both");
    arrange();
    showOther(view === "both");
    main.picture(state, view === "photo" ? "photo" : "print");
    other?.board.picture(state, "photo");
    sameAreas();
    ask(state);
    closeUp.sync(state);
  }

  function ask(state) {
    const widthPx = main.widthPx() * Math.min(window.devicePixelRatio || 1, MOST_DENSE);
    if (!isDrawn(state.sheets) || viewOf(state) === "photo" || !widthPx) trouble.textContent = "";
    else previews.ask(state, widthPx);
  }

  /** Show the areas on the photo beside the print too; they are moved on the print only. */
  function sameAreas() {
    const { width, height } = other?.board.element.getBoundingClientRect() ?? { width: 0 };
    if (!width || !app.state.photo) return;
    fill(othersAreas, protectOf(app.state).map((one) => {
      const area = mirroredArea(one, app.state.sheets.mirror);
      const at = { x: area.left * width, y: area.top * height, width: area.width * width, height: area.height * height };
      return [svg("rect", { class: "area-halo", ...at }), svg("rect", { class: "area-line", ...at })];
    }));
  }

  return {
    element,
    tape,
    board: main.board,
    areas: main.areas,
    show(next) {
      plan = next;
      each((board) => board.show(plan));
    },
    sync,
    /** Load the service's small copy of the photo. */
    async load(url) {
      address = url;
      try {
        await main.load(url);
      } catch {
        main.element.append(h("p", { class: "easel-word", text: t("sheets.no-picture") }));
      }
    },
    stop() {
      roomy.removeEventListener("change", turned);
      stuck.disconnect();
      document.documentElement.style.removeProperty("--stuck");
      previews.stop();
      closeUp.stop();
      each((board) => board.stop());
    },
  };
}

/** A tap on the picture shows its place from near, unless an area is drawn or tapped. */
function openByTap(board, closeUp) {
  let free = false;
  board.addEventListener("pointerdown", (event) => {
    free = !board.classList.contains("drawing") && !event.target.closest(".area");
  });
  board.addEventListener("click", (event) => {
    const { left, top, width, height } = board.getBoundingClientRect();
    if (free) closeUp.open({ x: (event.clientX - left) / width, y: (event.clientY - top) / height });
    free = false;
  });
}
