// Drawing by squares, without sheets: the photo under its grid, where the support is ticked, two
// pages to print, and one square after the other large on the screen.

import * as api from "../api/service.js";
import { gridPages, gridPicture, keepGrid, keptGrid } from "../api/kept-grid.js";
import { bench, lineIcon } from "../controls/screen/bench.js";
import { choice, stepper, toggle } from "../controls/fields.js";
import { backLink } from "../controls/screen/layout.js";
import { gridLayer } from "../draw/plan/grid-layer.js";
import { fill, h, svg } from "../lib/browser/dom.js";
import { clamp } from "../lib/geometry/crop.js";
import { MM_PER_INCH, readLength, writeLength, writeLengthUnit } from "../lib/texts/units.js";
import { keepAwake } from "../lib/browser/wake-lock.js";
import { problemText } from "../lib/texts/words.js";
import { specOf } from "../state/state.js";
import { allSquares, placeOf, squareName } from "./grid-places.js";
import { oneSquare } from "./one-square.js";
import { supportTicks } from "./support-ticks.js";

/** The service's limits. */
const LEAST_MM = 5;
const MOST_MM = 2000;
const STEP_MM = { cm: 5, mm: 5, in: MM_PER_INCH / 4 };
const LOOKS = ["colour", "grey", "outline"];
/** Until the service has suggested a side: about eight squares across (common practice). */
const USUAL = 8;

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const stopKeeping = keepAwake();
  let shown = null;
  let address = "";
  let pictureKey = "";
  let view = null;
  let asked = 0;
  const own = () => app.state.squares;
  const take = (change) => app.update({ squares: change });

  const layer = svg("svg", { "aria-hidden": "true" });
  const image = h("img", { alt: "", draggable: "false" });
  const box = h("div", { class: "squares-box", on: { click: tapped } }, image, layer);
  const place = h("div", { class: "squares-place" }, box);
  const sum = h("p", { role: "status" });
  const sizes = h("div", { class: "panel-part" });
  const ticks = h("div", { class: "panel-part" });
  const begin = h("button", { type: "button", class: "button primary", disabled: true, on: { click: () => openSquare(firstSquare()) } }, t("bysquares.begin"));
  const watch = new ResizeObserver(drawGrid);
  showWhole();
  load();

  /** What is asked of the service: the frame and paper as they are, with a grid of its own. */
  function specNow(mm = own().mm) {
    const { state } = app;
    const gridMm = mm ?? Math.max(LEAST_MM, Math.round(Math.max(state.paper.widthMm, state.paper.heightMm) / USUAL));
    return specOf({ ...state, sheets: { ...state.sheets, style: own().look, gridMm, mirror: false } });
  }

  async function load() {
    asked += 1;
    const mine = asked;
    const { referenceId } = app.state.photo;
    let spec = specNow();
    const kept = await keptGrid();
    try {
      let plan = await api.plan(referenceId, spec);
      if (mine !== asked) return;
      if (own().mm === null && spec.grid) {
        const suggested = plan.grid.suggested_mm;
        take({ mm: suggested[Math.floor(suggested.length / 2)] ?? plan.grid.square_mm });
        spec = specNow();
        plan = await api.plan(referenceId, spec);
      }
      const { grid: _, ...others } = spec;
      const key = JSON.stringify([referenceId, others]);
      if (key !== pictureKey) {
        const picture = kept?.key === key ? kept.picture : await gridPicture(referenceId, spec);
        if (mine !== asked) return;
        showPicture(picture, key);
        await show({ referenceId, plan, key });
        keepGrid({ key, referenceId, plan: lean(plan), of: shown.of }, picture);
      } else {
        await show({ referenceId, plan, key });
        if (kept) keepGrid({ key, referenceId, plan: lean(plan), of: shown.of }, kept.picture);
      }
    } catch (error) {
      if (mine !== asked) return;
      if (error.code === "offline" && kept?.referenceId === referenceId) {
        showPicture(kept.picture, kept.key);
        await show(kept);
        app.announce(t("bysquares.offline"));
      } else showProblem(error);
    }
  }

  /** What a screen needs of a plan. */
  const lean = ({ grid, picture }) => ({ grid, picture });

  function showPicture(picture, key) {
    if (address) URL.revokeObjectURL(address);
    address = URL.createObjectURL(picture);
    pictureKey = key;
    image.src = address;
  }

  async function show({ plan, key }) {
    const of = JSON.stringify([key, plan.grid.square_mm]);
    shown = { plan: lean(plan), of };
    if (own().of !== of) take({ of, done: {}, at: "" });
    await image.decode().catch(() => {});
    const { grid, picture } = plan;
    const { unit, borderMm } = app.state.paper;
    box.style.setProperty("--proportion", String(picture.width_mm / picture.height_mm));
    box.classList.add("there");
    sum.classList.remove("wrong");
    sum.textContent = t("bysquares.sum", {
      columns: String(grid.columns), rows: String(grid.rows), side: writeLengthUnit(grid.square_mm, unit, t.language),
    });
    begin.disabled = false;
    fill(ticks, supportTicks(t, plan, borderMm, unit));
    fill(sizes, sizeParts(grid, picture));
    drawGrid();
  }

  function showProblem(error) {
    sum.classList.add("wrong");
    sum.textContent = problemText(t, error);
    app.announce(sum.textContent, true);
  }

  function showWhole() {
    view?.unmount();
    view = null;
    bench(root, {
      title: t("bysquares.title"), pictureArea: place, sum, toolsName: t("view.tools"),
      tools: [
        { id: "size", name: t("bysquares.size"), icon: lineIcon("M4 4h16v16H4Z", "M12 4v16", "M4 12h16"), panel: sizes },
        { id: "look", name: t("bysquares.look"), icon: lineIcon("M12 5a7 7 0 1 0 0 14Z", "M12 5a7 7 0 0 1 0 14"), panel: lookPart() },
        { id: "ticks", name: t("bysquares.ticks"), icon: lineIcon("M4 8h16", "M4 8v5", "M9 8v3", "M14 8v5", "M19 8v3"), panel: ticks },
        { id: "print", name: t("bysquares.print"), icon: lineIcon("M7 8V4h10v4", "M5 8h14v8h-3", "M8 16H5V8", "M8 13h8v7H8Z"), panel: printPart() },
      ],
      actions: [backLink(t("step.frame"), "frame"), begin],
    });
    if (!shown) sum.textContent = t("bysquares.working");
    watch.observe(place);
    drawGrid();
  }

  function drawGrid() {
    if (!shown || view) return;
    const { clientWidth: wide, clientHeight: high } = box;
    if (!wide) return;
    layer.setAttribute("viewBox", `0 0 ${wide} ${high}`);
    const scale = wide / shown.plan.picture.width_mm;
    const drawn = allSquares(shown.plan).filter((one) => own().done[squareName(one)]).map((one) => {
      const { left, top, width, height } = placeOf(shown.plan, one);
      return svg("text", { class: "square-drawn", x: (left + width - 2) * scale, y: (top + height - 2) * scale, "text-anchor": "end" }, "✓");
    });
    fill(layer, gridLayer(shown.plan, wide, app.state.sheets.gridDiagonals), drawn);
  }

  function tapped(event) {
    if (!shown) return;
    const { left, top, width } = box.getBoundingClientRect();
    const { grid, picture } = shown.plan;
    const step = (width / picture.width_mm) * grid.square_mm;
    openSquare({
      column: clamp(Math.floor((event.clientX - left) / step), 0, grid.columns - 1),
      row: clamp(Math.floor((event.clientY - top) / step), 0, grid.rows - 1),
    });
  }

  /** The one that was shown last, or the first that is not drawn. */
  function firstSquare() {
    const squares = allSquares(shown.plan);
    return squares.find((one) => squareName(one) === own().at) ?? squares.find((one) => !own().done[squareName(one)]) ?? squares[0];
  }

  function openSquare(first) {
    view = oneSquare(app, {
      plan: shown.plan, address, first, done: () => own().done, leave: showWholeAgain,
      mark: (name, is) => take({ done: { ...own().done, [name]: is } }),
      shown: (square) => take({ at: squareName(square) }),
    });
    take({ at: squareName(first) });
    fill(root, view.element);
    view.element.querySelector(".studio-next").focus({ preventScroll: true });
  }

  function showWholeAgain() {
    showWhole();
    const { length } = allSquares(shown.plan).filter((one) => !own().done[squareName(one)]);
    if (length === 0) app.announce(t("bysquares.all-drawn"));
    begin.focus({ preventScroll: true });
  }

  function sizeParts({ suggested_mm: suggested, square_mm: side }, picture) {
    const { unit } = app.state.paper;
    const set = (mm) => {
      take({ mm: clamp(mm, LEAST_MM, Math.min(MOST_MM, Math.max(picture.width_mm, picture.height_mm))) });
      load();
    };
    const step = stepper({
      label: t("squares.square"), unit, less: t("squares.smaller"), more: t("squares.larger"), step: STEP_MM[unit],
      write: (mm) => writeLength(mm, unit, t.language), read: (text) => readLength(text, unit), change: set,
    });
    step.show(side);
    return [
      h("div", { class: "chips", role: "group", "aria-label": t("squares.suggested") }, suggested.map((mm) => h("button", {
        type: "button", class: "chip", "aria-pressed": String(Math.abs(mm - side) < 0.06), on: { click: () => set(mm) },
      }, writeLengthUnit(mm, unit, t.language)))),
      step.element,
    ];
  }

  function lookPart() {
    return h("div", { class: "panel-part" },
      choice("look", t("bysquares.look"), LOOKS.map((look) => [look, t(`bysquares.look-${look}`)]), own().look, (look) => {
        take({ look });
        load();
      }, { hideLegend: true }),
      toggle(t("common.left-handed"), app.state.leftHanded, (leftHanded) => app.update({ leftHanded })));
  }

  function printPart() {
    const button = h("button", { type: "button", class: "button", on: { click: get } }, t("bysquares.get"));

    async function get() {
      button.setAttribute("aria-disabled", "true");
      try {
        const pages = await gridPages(app.state.photo.referenceId, specNow(), app.state.title);
        const link = h("a", { href: URL.createObjectURL(pages), download: `${app.state.title || t("bysquares.file")}.pdf` });
        link.click();
        setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
      } catch (error) {
        showProblem(error);
      }
      button.removeAttribute("aria-disabled");
    }

    return h("div", { class: "panel-part" }, h("p", { text: t("bysquares.print-note") }), h("div", { class: "button-row" }, button));
  }

  return {
    unmount() {
      asked += 1;
      stopKeeping();
      watch.disconnect();
      view?.unmount();
      if (address) URL.revokeObjectURL(address);
    },
  };
}
