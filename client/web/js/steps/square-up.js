// Squaring up, a part of the frame step: the four corners of a picture that was photographed at a
// slant become a rectangle. The original photo is kept, and one tap returns to it.

import * as api from "../api/service.js";
import { fill, freshId, h } from "../lib/browser/dom.js";
import { bench, lineIcon } from "../controls/screen/bench.js";
import { choice, field, stepper } from "../controls/fields.js";
import { clamp } from "../lib/geometry/crop.js";
import { backLink } from "../controls/screen/layout.js";
import { isUsable, orderedCorners, squareToCorners, trueProportion } from "../lib/geometry/quadrilateral.js";
import { CORNERS, cornerHandles } from "../draw/corner-handles.js";
import { FRAME_RESET, proportionOf } from "../state/state.js";
import { readNumber, readSize } from "../lib/texts/units.js";
import { problemText } from "../lib/texts/words.js";

const FIRST = [[0.1, 0.1], [0.9, 0.1], [0.9, 0.9], [0.1, 0.9]];
/** Longer side of the preview of the result in pixels; it is recomputed while a corner moves. */
const RESULT_PX = 260;
const STEP = 0.01;

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const source = app.state.photo.original ?? app.state.photo;
  const keysId = freshId("keys");
  const handles = cornerHandles(t, { photo: source, describedBy: keysId, change: move });
  const result = h("canvas", { class: "square-result", role: "img", "aria-label": t("square.result") });
  const says = h("p", { class: "square-says", role: "status" });
  const messages = h("div", { class: "notices" });
  const go = h("button", { type: "button", class: "button primary", on: { click: send } }, t("square.go"));
  const figures = CORNERS.map(cornerFields);
  const size = h("input", { type: "text", autocomplete: "off", maxlength: 40, on: { input: show } });
  const sizeField = field(t("square.size"), size, { note: t("square.size-note", { example: t(`paper.example-${app.state.paper.unit}`) }) });
  let corners = app.state.photo.corners ?? FIRST;
  let way = "seen";
  let pixels = null;
  let busy = false;
  let drawn = 0;
  let key = api.freshKey();

  sizeField.element.hidden = true;
  bench(root, {
    title: t("square.title"), pictureArea: handles.element,
    sum: [says, messages, h("p", { class: "unseen", id: keysId, text: `${t("square.lead")} ${t("square.keys")}` })],
    toolsName: t("view.tools"),
    tools: [
      { id: "result", name: t("square.result-tool"), icon: lineIcon("M4 6h16v12H4Z", "M4 15l5-4 4 3 3-2 4 3"), panel: h("div", { class: "panel-part" },
        h("p", { class: "small", text: t("square.lead") }), h("div", { class: "square-stand" }, result)) },
      { id: "shape", name: t("square.proportion"), icon: lineIcon("M5 5h9v14H5Z", "M14 10h6v9h-6"), panel: h("div", { class: "panel-part" },
        choice("proportion", t("square.proportion"), ["seen", "picture", "measured"].map((one) => [one, t(`square.${one}`)]), way, take, { hideLegend: true }),
        sizeField.element) },
      { id: "figures", name: t("frame.place"), icon: lineIcon("M4 8h16", "M4 8v4", "M8 8v2.5", "M12 8v4", "M16 8v2.5", "M20 8v4"), panel: h("div", { class: "panel-part" },
        figures.map((one) => one.element)) },
    ],
    first: "result",
    actions: [backLink(t("step.frame"), "frame"), go],
  });
  handles.image.decode().then(readPixels).catch(() => {});
  show();

  function cornerFields(name, index) {
    const one = (axis, label) => stepper({
      label: t(`square.${label}`), unit: "%", step: STEP, less: t(`square.${label}-less`, { corner: t(`square.${name}`) }),
      more: t(`square.${label}-more`, { corner: t(`square.${name}`) }), write: (share) => t.number(share * 100, 1),
      read(text) {
        const read = readNumber(text);
        return read === null ? null : read / 100;
      },
      change: (share) => move(index, corners[index].map((old, at) => (at === axis ? clamp(share, 0, 1) : old))),
    });
    const sides = [one(0, "from-left"), one(1, "from-top")];
    return {
      element: h("div", { class: "corner-fields", role: "group", "aria-label": t(`square.${name}`) },
        h("p", { class: "corner-name", text: t(`square.${name}`) }), h("div", { class: "fields" }, sides.map((side) => side.element))),
      show: (corner) => corner.forEach((share, axis) => sides[axis].show(share)),
    };
  }

  function move(index, place) {
    corners = corners.map((corner, at) => (at === index ? place : corner));
    key = api.freshKey();
    show();
  }

  function take(next) {
    way = next;
    key = api.freshKey();
    sizeField.element.hidden = way !== "measured";
    show();
  }

  /** The typed proportion; null: estimate it; undefined: unreadable. */
  function saidProportion() {
    if (way === "seen") return null;
    if (way === "picture") return proportionOf(app.state);
    const read = readSize(size.value, app.state.paper.unit);
    return read ? read.widthMm / read.heightMm : undefined;
  }

  function show() {
    const round = orderedCorners(corners, source);
    const usable = isUsable(round, source);
    handles.show(corners, usable);
    figures.forEach((one, index) => one.show(corners[index]));
    sizeField.note(t("square.size-note", { example: t(`paper.example-${app.state.paper.unit}`) }), size.value !== "" && saidProportion() === undefined);
    const proportion = usable ? saidProportion() ?? trueProportion(round, source) : null;
    says.classList.toggle("wrong", proportion === null);
    says.textContent = proportion === null ? t("problem.corners-unusable") : t("square.says", {
      wide: t.number(proportion >= 1 ? proportion : 1, 2), high: t.number(proportion >= 1 ? 1 : 1 / proportion, 2),
    });
    go.setAttribute("aria-disabled", String(busy || proportion === null || saidProportion() === undefined));
    cancelAnimationFrame(drawn);
    drawn = requestAnimationFrame(() => drawResult(round, proportion));
  }

  /** Read the pixels of the small photo, once. */
  function readPixels() {
    const { naturalWidth: width, naturalHeight: height } = handles.image;
    const canvas = h("canvas", { width, height });
    const context = canvas.getContext("2d", { willReadFrequently: true });
    context.drawImage(handles.image, 0, 0);
    pixels = context.getImageData(0, 0, width, height);
    show();
  }

  function drawResult(round, proportion) {
    result.style.visibility = proportion && pixels ? "visible" : "hidden";
    if (!proportion || !pixels) return;
    const width = Math.max(Math.round(RESULT_PX * Math.min(proportion, 1)), 1);
    const height = Math.max(Math.round(RESULT_PX / Math.max(proportion, 1)), 1);
    Object.assign(result, { width, height });
    const context = result.getContext("2d");
    const out = context.createImageData(width, height);
    const from = new Uint32Array(pixels.data.buffer);
    const to = new Uint32Array(out.data.buffer);
    const place = squareToCorners(round);
    for (let y = 0; y < height; y += 1) {
      for (let x = 0; x < width; x += 1) {
        const [u, v] = place((x + 0.5) / width, (y + 0.5) / height);
        const row = clamp(Math.floor(v * pixels.height), 0, pixels.height - 1);
        to[y * width + x] = from[row * pixels.width + clamp(Math.floor(u * pixels.width), 0, pixels.width - 1)];
      }
    }
    context.putImageData(out, 0, 0);
  }

  async function send() {
    if (go.getAttribute("aria-disabled") === "true") return;
    busy = true;
    go.textContent = t("square.going");
    fill(messages);
    show();
    try {
      const taken = await api.squareUp(source.referenceId, corners, saidProportion(), key);
      app.update({
        photo: {
          ...source, referenceId: taken.id, widthPx: taken.width_px, heightPx: taken.height_px,
          previewUrl: taken.links.preview, original: source, corners,
        },
        ...FRAME_RESET,
      });
      app.announce(t("square.done"));
      app.go("frame");
    } catch (error) {
      fill(messages, h("p", { class: "notice bad", text: problemText(t, error) }));
      app.announce(problemText(t, error), true);
    }
    busy = false;
    go.textContent = t("square.go");
    show();
  }

  return {
    unmount() {
      cancelAnimationFrame(drawn);
      handles.unmount();
    },
  };
}
