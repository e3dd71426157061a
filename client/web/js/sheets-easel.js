// The easel of the sheets: the picture as it is printed, the photo beside it or in its place,
// and the same plan, grid and protected areas over both.

import { fill, h, svg } from "./dom.js";
import { choice, toggle } from "./fields.js";
import { planBoard } from "./plan-board.js";
import { isDrawn, livePreview } from "./preview.js";
import { flipped } from "./protect.js";
import { proportionOf, protectOf } from "./state.js";
import { problemText } from "./words.js";

const VIEWS = ["photo", "print", "both"];
/** From a tablet on there is room for two pictures. */
const ROOMY = "(min-width: 768px)";
/** A screen shows no more than this of a preview, and a line carries less. */
const MOST_DENSE = 2;

/**
 * @param {object} app
 * @param {{thresholds: function(number[])}} hear where the tones part that were found
 * @returns {{element, tape: HTMLElement, board: SVGElement, areas: function, show: function(object|null),
 *   sync: function(object), load: function(string): Promise, stop: function}}
 */
export function sheetsEasel(app, hear) {
  const { t } = app;
  const main = planBoard(app, t("sheets.board"), () => ask(app.state));
  const other = planBoard(app, t("aids.photo-board"), () => sameAreas());
  const othersAreas = svg("g");
  const sign = h("span", { class: "plan-sign", hidden: true, "aria-hidden": "true" }, t("aids.drawing"));
  const trouble = h("p", { class: "small plan-trouble", role: "status" });
  const views = choice("view", t("aids.view"), VIEWS.map((one) => [one, t(`aids.view-${one}`)]), "print",
    (view) => app.update({ view }), { hideLegend: true });
  const pair = h("div", { class: "plan-pair" }, figure(other, t("aids.view-photo")), figure(main, t("aids.view-print")));
  const tape = toggle(t("sheets.show-tape"), false, (is) => [main, other].forEach((board) => board.options({ tape: is })));
  const element = h("div", { class: "sheets-easel" }, pair, trouble, views);
  const roomy = matchMedia(ROOMY);
  const previews = livePreview({
    busy(is) {
      sign.hidden = !is;
      main.element.setAttribute("aria-busy", String(is));
    },
    picture(image, thresholds) {
      trouble.textContent = "";
      main.print(image);
      if (thresholds) hear.thresholds(thresholds);
    },
    problem(error) {
      trouble.textContent = t("aids.no-preview", { why: problemText(t, error) });
    },
  });

  main.element.append(sign);
  other.areas({ layer: othersAreas, resize: () => {} });
  roomy.addEventListener("change", turned);
  // On a phone the picture stays in sight; what has the focus must not lie under it.
  const stuck = new ResizeObserver(() => {
    const stays = getComputedStyle(element.parentElement ?? element).position === "sticky" && !roomy.matches;
    document.documentElement.style.setProperty("--stuck", `${stays ? element.offsetHeight : 0}px`);
  });
  stuck.observe(element);

  function figure(board, name) {
    return h("figure", { class: "plan-figure" }, board.element, h("figcaption", { class: "small", "aria-hidden": "true", text: name }));
  }

  function turned() {
    if (app.state.photo) sync(app.state);
  }

  /** Asked for by the person; else what has room for what is drawn. */
  function viewOf({ view, sheets }) {
    return view ?? (isDrawn(sheets) && roomy.matches ? "both" : "print");
  }

  function sync(state) {
    const view = viewOf(state);
    for (const radio of views.querySelectorAll("input")) radio.checked = radio.value === view;
    pair.classList.toggle("both", view === "both");
    pair.classList.toggle("stacked", proportionOf(state) >= 1);
    other.element.parentElement.hidden = view !== "both";
    main.picture(state, view === "photo" ? "photo" : "print");
    other.picture(state, "photo");
    sameAreas();
    ask(state);
  }

  function ask(state) {
    const widthPx = main.widthPx() * Math.min(window.devicePixelRatio || 1, MOST_DENSE);
    if (!isDrawn(state.sheets) || viewOf(state) === "photo" || !widthPx) trouble.textContent = "";
    else previews.ask(state, widthPx);
  }

  /** On the photo beside it the areas are only shown: they are moved in one place. */
  function sameAreas() {
    const { width, height } = other.element.getBoundingClientRect();
    if (!width || !app.state.photo) return;
    fill(othersAreas, protectOf(app.state).map((one) => {
      const area = flipped(one, app.state.sheets.mirror);
      const at = { x: area.left * width, y: area.top * height, width: area.width * width, height: area.height * height };
      return [svg("rect", { class: "area-halo", ...at }), svg("rect", { class: "area-line", ...at })];
    }));
  }

  return {
    element,
    tape,
    board: main.board,
    areas: main.areas,
    show(plan) {
      for (const board of [main, other]) board.show(plan);
    },
    sync,
    /** Load the service's own small copy of the photo. */
    async load(url) {
      try {
        await Promise.all([main.load(url), other.load(url)]);
      } catch {
        main.element.append(h("p", { class: "easel-word", text: t("sheets.no-picture") }));
      }
    },
    stop() {
      roomy.removeEventListener("change", turned);
      stuck.disconnect();
      document.documentElement.style.removeProperty("--stuck");
      previews.stop();
      for (const board of [main, other]) board.stop();
    },
  };
}
