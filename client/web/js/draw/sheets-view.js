// The picture area of the sheets step: the picture as it is printed, the photo beside it or in its
// place, and the same plan, grid and protected areas over both. It is enlarged and moved under the
// fingers; a tap shows a place at print scale.

import { fill, h, svg } from "../lib/browser/dom.js";
import { lineIcon } from "../controls/screen/bench.js";
import { choice } from "../controls/fields.js";
import { pictureView } from "./picture-view.js";
import { planBoard } from "./plan/board.js";
import { isDrawn, livePreview } from "../api/print-preview.js";
import { mirroredArea } from "../lib/geometry/protected-areas.js";
import { proportionOf, protectOf } from "../state/state.js";
import { needStyles } from "../lib/browser/style-sheets.js";
import { problemText } from "../lib/texts/words.js";

const VIEWS = ["photo", "print", "both"];
/** Limit of the width of a preview: more is not visible, and takes longer to load. */
const MOST_DENSE = 2;

/**
 * @param {object} app
 * @param {{thresholds: function(number[], number[]|null), drawing: function(): boolean, busy: function(boolean),
 *   loaded: function(HTMLImageElement)}} handlers `thresholds` gets those that
 *   the service found, and the printed greys; `drawing` says whether a finger draws an area; `loaded`
 *   gets the small photo
 * @returns {{element, tape: HTMLElement, labels: HTMLElement, board: SVGElement, areas: function,
 *   show: function(object|null), sync: function(object), load: function(string): Promise,
 *   over: function(Node), stop: function}}
 */
export function sheetsView(app, handlers) {
  const { t } = app;
  const main = planBoard(app, t("sheets.board"), () => ask(app.state));
  const near = pictureView(t, main.element, {
    label: t("view.picture"), busy: handlers.drawing, tapped: openLoupe,
    zoomed(scale) {
      main.zoom(scale);
      other?.board.zoom(scale);
      ask(app.state);
    },
    moved: (at) => other?.near.follow(at),
  });
  const loupeButton = h("button", {
    type: "button", class: "view-button", "aria-label": t("loupe.title"), on: { click: () => openLoupe({ x: 0.5, y: 0.5 }) },
  }, lineIcon("M10.5 17a6.5 6.5 0 1 0 0-13 6.5 6.5 0 0 0 0 13Z", "M15.5 15.5 20.5 20.5"));
  const othersAreas = svg("g");
  const sign = h("span", { class: "plan-sign", hidden: true, "aria-hidden": "true" }, t("aids.drawing"));
  const trouble = h("p", { class: "small plan-trouble", role: "status" });
  const views = choice("view", t("aids.view"), VIEWS.map((one) => [one, t(`aids.view-${one}`)]), "print",
    (view) => app.update({ view }), { hideLegend: true });
  const pair = h("div", { class: "plan-pair" }, figure(near.element, t("aids.view-print")));
  const shown = { tape: false, labels: true };
  const stage = h("div", { class: "plan-stage" }, pair, sign, trouble);
  const element = h("div", { class: "sheets-easel" }, stage, h("div", { class: "plan-strip" }, views, h("div", { class: "view-buttons" }, loupeButton), near.buttons));
  let other = null;
  let closeUp = null;
  let stopped = false;
  let address = "";
  let plan = null;
  const previews = livePreview({
    busy(is) {
      handlers.busy(is);
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

  /** Show a place at print scale; the loupe is loaded when it is first wanted. */
  async function openLoupe(place) {
    try {
      const [{ loupe }] = await Promise.all([import("./loupe/loupe.js"), needStyles(["loupe"])]);
      if (stopped) return;
      if (!closeUp) {
        closeUp = loupe(app, { picture: main.shown, box: () => main.element.getBoundingClientRect() });
        stage.append(closeUp.element);
        closeUp.sync(app.state);
      }
      closeUp.open(place);
    } catch {
      trouble.textContent = t("problem.offline");
    }
  }

  const watch = new ResizeObserver(() => arrange());
  watch.observe(stage);

  function figure(content, name) {
    return h("figure", { class: "plan-figure" }, content, h("figcaption", { class: "small", "aria-hidden": "true", text: name }));
  }

  const each = (act) => [main, other?.board].filter(Boolean).forEach(act);

  /** A choice of what is drawn over the picture. */
  function option(name, text) {
    const input = h("input", {
      type: "checkbox", id: `plan-${name}`, checked: shown[name],
      on: { change: () => { shown[name] = input.checked; each((board) => board.options(shown)); } },
    });
    return h("div", { class: "toggle" }, input, h("label", { for: input.id, text }));
  }

  /** Place two pictures so that they are larger. */
  function arrange() {
    const proportion = app.state.photo ? proportionOf(app.state) : 1;
    const { clientWidth: width, clientHeight: height } = stage;
    const beside = Math.min(width / 2 / proportion, height);
    const stacked = Math.min(width / proportion, height / 2);
    pair.classList.toggle("stacked", width > 0 && stacked > beside);
  }

  /** Add the photo beside the print, or remove it. */
  function showOther(is) {
    if (is && !other) {
      const board = planBoard(app, t("aids.photo-board"), sameAreas);
      board.areas({ layer: othersAreas, resize: () => {}, zoom: () => {} });
      board.options(shown);
      board.show(plan);
      board.load(address).catch(() => {});
      const its = pictureView(t, board.element, {
        label: t("aids.photo-board"), tapped: openLoupe, zoomed: (scale) => board.zoom(scale), moved: near.follow,
      });
      other = { board, near: its, figure: figure(its.element, t("aids.view-photo")) };
    }
    if (is && !other.figure.isConnected) pair.prepend(other.figure);
    else if (!is) other?.figure.remove();
  }

  /** The view that the person chose; two pictures are half as large, so they are asked for. */
  const viewOf = ({ view }) => view ?? "print";

  function sync(state) {
    const view = viewOf(state);
    for (const radio of views.querySelectorAll("input")) radio.checked = radio.value === view;
    pair.classList.toggle("both", view === "both");
    showOther(view === "both");
    arrange();
    main.picture(state, view === "photo" ? "photo" : "print");
    other?.board.picture(state, "photo");
    sameAreas();
    ask(state);
    closeUp?.sync(state);
  }

  function ask(state) {
    const widthPx = main.widthPx() * Math.min(window.devicePixelRatio || 1, MOST_DENSE);
    if (!isDrawn(state.sheets) || viewOf(state) === "photo" || !widthPx) trouble.textContent = "";
    else previews.ask(state, widthPx);
  }

  /** Show the areas on the photo beside the print too; they are moved on the print only. */
  function sameAreas() {
    const { width, height } = other?.board.size() ?? { width: 0 };
    if (!width || !app.state.photo) return;
    fill(othersAreas, protectOf(app.state).map((one) => {
      const area = mirroredArea(one, app.state.sheets.mirror);
      const at = { x: area.left * width, y: area.top * height, width: area.width * width, height: area.height * height };
      return [svg("rect", { class: "area-halo", ...at }), svg("rect", { class: "area-line", ...at })];
    }));
  }

  return {
    element,
    tape: option("tape", t("sheets.show-tape")),
    labels: option("labels", t("sheets.show-labels")),
    board: main.board,
    areas: main.areas,
    /** Put something over the picture that does not move with it. */
    over: (node) => stage.append(node),
    show(next) {
      plan = next;
      each((board) => board.show(plan));
    },
    sync,
    /** Load the service's small copy of the photo. */
    async load(url) {
      address = url;
      try {
        handlers.loaded(await main.load(url));
      } catch {
        trouble.textContent = t("sheets.no-picture");
      }
    },
    stop() {
      stopped = true;
      watch.disconnect();
      previews.stop();
      near.stop();
      closeUp?.stop();
      other?.near.stop();
      each((board) => board.stop());
    },
  };
}
