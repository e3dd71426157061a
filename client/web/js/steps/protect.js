// The editor of protected areas: they are drawn with a finger, or placed without a drag (WCAG 2.2,
// 2.5.7), moved with arrow keys or number fields, removed with a tap. The screen shows them on the
// printed picture, which may be mirrored; the spec has them unmirrored.

import { fill, h, svg } from "../lib/browser/dom.js";
import { faceOffer } from "../controls/plan/face-offer.js";
import { stepper } from "../controls/fields.js";
import { clamp } from "../lib/geometry/crop.js";
import { mirroredArea } from "../lib/geometry/protected-areas.js";
import { readLength, writeLength } from "../lib/texts/units.js";
import { pictureOf } from "../state/state.js";

/** The service's limit. */
const MOST_AREAS = 50;
/** A shorter movement is a tap. */
const TAP_PX = 8;
/** The smallest touch target (px on the screen), however small the area and large the picture. */
const TARGET_PX = 44;
const LEAST_SHARE = 0.01;
const KEY_STEP = 0.01;
const FIRST = { left: 0.4, top: 0.4, width: 0.2, height: 0.2 };
const EDGES = ["left", "top", "width", "height"];

/** The requested area, limited to the picture. */
function clampedArea(area) {
  const width = clamp(area.width, LEAST_SHARE, 1);
  const height = clamp(area.height, LEAST_SHARE, 1);
  return { left: clamp(area.left, 0, 1 - width), top: clamp(area.top, 0, 1 - height), width, height };
}

/**
 * The protected areas of a plan's picture.
 * @param {object} app
 * @param {SVGElement} board Over the picture; one unit is one pixel, while it is not enlarged.
 * @param {{open: function, rest: function}} tool `open()` opens the panel; `rest()` moves the focus to
 *   the button that opens it
 * @returns {{layer: SVGElement, panel: HTMLElement, offer: HTMLElement, drawing: function(): boolean,
 *   draw: function(boolean), resize: function(number, number), zoom: function(number), sync: function(object)}} `draw(is)`
 *   begins or ends drawing with a finger; `offer` asks whether to protect the faces found
 */
export function protectedAreaEditor(app, board, tool) {
  const { t } = app;
  const layer = svg("g", { class: "areas" });
  const ghost = svg("rect", { class: "ghost", visibility: "hidden" });
  const list = h("ol", { class: "area-list" });
  const undo = h("button", { type: "button", class: "button", hidden: true, on: { click: bringBack } });
  const drawButton = h("button", {
    type: "button", class: "button", "aria-pressed": "false", on: { click: () => setDrawing(!drawing) },
  }, t("sheets.protect.draw"));
  const hint = h("p", { class: "note", text: t("sheets.protect.hint") });
  const offer = faceOffer(app, { rest: tool.rest });
  let size = { width: 1, height: 1 };
  let zoom = 1;
  let drawing = false;
  let from = null;
  let removed = null;
  let shown = { key: "", rows: [] };

  const areas = () => app.state.sheets.protect.map((area) => mirroredArea(area, app.state.sheets.mirror));
  const setAreas = (next) => app.update({
    sheets: { protect: next.map((area) => mirroredArea(clampedArea(area), app.state.sheets.mirror)) },
  });

  function add(area) {
    const now = areas();
    if (now.length >= MOST_AREAS) return app.announce(t("sheets.protect.enough", { count: MOST_AREAS }), true);
    setAreas([...now, area]);
    return app.announce(t("sheets.protect.added", { number: now.length + 1 }));
  }

  function change(index, patch) {
    setAreas(areas().map((area, at) => (at === index ? { ...area, ...patch } : area)));
  }

  function remove(index) {
    const now = areas();
    removed = now[index];
    setAreas(now.filter((_, at) => at !== index));
    undo.textContent = t("sheets.protect.undo", { number: index + 1 });
    undo.hidden = false;
    // Whoever tapped an area by mistake sees at once how it comes back.
    if (!panel.isConnected) tool.open();
    undo.focus({ preventScroll: true });
    app.announce(t("sheets.protect.removed", { number: index + 1 }));
  }

  /** Add an area in the middle, and move the focus to it: arrow keys bring it to its place. */
  function addMiddle() {
    const count = areas().length;
    add(FIRST);
    if (areas().length > count) shown.marks.at(-1).focus({ preventScroll: true });
  }

  function bringBack() {
    undo.hidden = true;
    if (removed) add(removed);
    removed = null;
    drawButton.focus({ preventScroll: true });
  }

  function setDrawing(on) {
    drawing = on;
    drawButton.setAttribute("aria-pressed", String(on));
    drawButton.textContent = t(on ? "sheets.protect.stop" : "sheets.protect.draw");
    board.classList.toggle("drawing", on);
    hint.textContent = t(on ? "sheets.protect.drag" : "sheets.protect.hint");
    if (!on) endStroke();
  }

  function endStroke() {
    from = null;
    ghost.setAttribute("visibility", "hidden");
  }

  function place(event) {
    const box = board.getBoundingClientRect();
    return {
      x: clamp((event.clientX - box.left) / box.width, 0, 1),
      y: clamp((event.clientY - box.top) / box.height, 0, 1),
    };
  }

  function drawn(to) {
    return {
      left: Math.min(from.x, to.x), top: Math.min(from.y, to.y),
      width: Math.abs(to.x - from.x), height: Math.abs(to.y - from.y),
    };
  }

  /** Whether an area is too small for a drag, on the screen: the picture may be enlarged. */
  function isTap(area) {
    const box = board.getBoundingClientRect();
    return area.width * box.width < TAP_PX && area.height * box.height < TAP_PX;
  }

  board.addEventListener("pointerdown", (event) => {
    if (!drawing || event.button !== 0) return;
    // A second finger enlarges the picture instead.
    if (from) return endStroke();
    event.preventDefault();
    board.setPointerCapture(event.pointerId);
    from = { ...place(event), id: event.pointerId };
  });
  board.addEventListener("pointermove", (event) => {
    if (from?.id !== event.pointerId) return;
    lay(ghost, drawn(place(event)));
    ghost.setAttribute("visibility", "visible");
  });
  board.addEventListener("pointerup", (event) => {
    if (from?.id !== event.pointerId) return;
    const area = drawn(place(event));
    const start = from;
    endStroke();
    if (isTap(area)) {
      const hit = areas().findIndex((one) => contains(one, start));
      if (hit >= 0) remove(hit);
    } else add(area);
  });
  board.addEventListener("pointercancel", endStroke);
  board.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && drawing) setDrawing(false);
  });

  function lay(rect, area) {
    rect.setAttribute("x", area.left * size.width);
    rect.setAttribute("y", area.top * size.height);
    rect.setAttribute("width", area.width * size.width);
    rect.setAttribute("height", area.height * size.height);
  }

  function mark(index) {
    const group = svg("g", { class: "area", tabindex: "0", role: "button", "aria-describedby": "area-keys" },
      svg("rect", { class: "area-target" }), svg("rect", { class: "area-halo" }),
      svg("rect", { class: "area-line" }), svg("text", { class: "area-number" }, index + 1));
    group.addEventListener("click", () => {
      if (!drawing) remove(index);
    });
    group.addEventListener("keydown", (event) => pressed(event, index));
    return group;
  }

  function pressed(event, index) {
    if (["Enter", " ", "Delete", "Backspace"].includes(event.key)) {
      event.preventDefault();
      return remove(index);
    }
    const [x, y] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key] ?? [0, 0];
    if (!x && !y) return undefined;
    event.preventDefault();
    const area = areas()[index];
    return change(index, event.shiftKey
      ? { width: area.width + x * KEY_STEP, height: area.height + y * KEY_STEP }
      : { left: area.left + x * KEY_STEP, top: area.top + y * KEY_STEP });
  }

  function row(index) {
    const { unit } = app.state.paper;
    const language = t.language;
    const sides = EDGES.map((edge) => {
      const whole = () => sideOf(pictureOf(app.state), edge);
      return stepper({
        label: t(`sheets.protect.${edge}`), unit,
        less: t("sheets.protect.less", { what: t(`sheets.protect.${edge}`) }),
        more: t("sheets.protect.more", { what: t(`sheets.protect.${edge}`) }),
        step: { mm: 5, cm: 5, in: 6.35 }[unit],
        write: (mm) => writeLength(mm, unit, language),
        read: (text) => readLength(text, unit),
        change: (mm) => change(index, { [edge]: mm / whole() }),
      });
    });
    const element = h("li", {}, h("details", {},
      h("summary", {}, t("sheets.protect.area", { number: index + 1 })),
      h("div", { class: "fields" }, sides.map((side) => side.element)),
      h("button", { type: "button", class: "button", on: { click: () => remove(index) } },
        t("sheets.protect.remove", { number: index + 1 }))));
    return {
      element,
      show(area) {
        const picture = pictureOf(app.state);
        EDGES.forEach((edge, at) => sides[at].show(area[edge] * sideOf(picture, edge)));
      },
    };
  }

  function sync() {
    const now = areas();
    // Rows and marks are rebuilt only when their number changes, so that the focus stays.
    const key = `${now.length} ${app.state.paper.unit}`;
    if (key !== shown.key) {
      shown = { key, rows: now.map((_, index) => row(index)), marks: now.map((_, index) => mark(index)) };
      fill(list, shown.rows.map((one) => one.element));
      fill(layer, shown.marks, ghost);
    }
    now.forEach((area, index) => {
      shown.rows[index].show(area);
      draw(shown.marks[index], area, index);
    });
    ghost.setAttribute("visibility", "hidden");
  }

  function draw(group, area, index) {
    const [target, halo, line, number] = group.children;
    const width = Math.max(area.width, TARGET_PX / (size.width * zoom));
    const height = Math.max(area.height, TARGET_PX / (size.height * zoom));
    lay(target, {
      left: area.left - (width - area.width) / 2, top: area.top - (height - area.height) / 2, width, height,
    });
    lay(halo, area);
    lay(line, area);
    number.setAttribute("x", area.left * size.width + 5 / zoom);
    number.setAttribute("y", area.top * size.height + 16 / zoom);
    const percent = (share) => Math.round(share * 100);
    group.setAttribute("aria-label", t("sheets.protect.mark", {
      number: index + 1, left: percent(area.left), top: percent(area.top),
      width: percent(area.width), height: percent(area.height),
    }));
  }

  const panel = h("fieldset", { class: "panel-part" }, h("legend", { class: "unseen", text: t("sheets.protect.title") }),
    hint,
    h("p", { class: "unseen", id: "area-keys", text: t("sheets.protect.keys") }),
    h("div", { class: "button-row" }, drawButton,
      h("button", { type: "button", class: "button", on: { click: addMiddle } }, t("sheets.protect.middle")),
      undo),
    list);

  return {
    layer, panel, sync,
    offer: offer.element,
    drawing: () => drawing,
    draw: setDrawing,
    /** Offer to protect the faces of a new plan. */
    showPlan: offer.show,
    resize(width, height) {
      size = { width, height };
      sync();
    },
    /** Targets and numbers keep their size on the screen. */
    zoom(scale) {
      zoom = scale;
      sync();
    },
  };
}

function contains(area, { x, y }) {
  return x >= area.left && x <= area.left + area.width && y >= area.top && y <= area.top + area.height;
}

function sideOf(picture, edge) {
  return edge === "left" || edge === "width" ? picture.widthMm : picture.heightMm;
}
