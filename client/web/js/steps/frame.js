// Step 3: the frame. The part of the photo that fills the picture, its rotation, and the sharpness
// that results, updated while it changes.

import { fill, freshId, h } from "../lib/browser/dom.js";
import { bench, lineIcon } from "../controls/screen/bench.js";
import { field, stepper, toggle } from "../controls/fields.js";
import { clamp, MOST_TURN_DEG, zoomedFrame } from "../lib/geometry/crop.js";
import { backLink, nextLink } from "../controls/screen/layout.js";
import { livePlan } from "../api/live-plan.js";
import { sharpness as sharpnessIn } from "../controls/plan/summary.js";
import { resolvedSizeOf, sharpnessOf } from "../lib/paper/sharpness.js";
import { FRAME_RESET, frameOf, largestFrameOf, proportionOf } from "../state/state.js";
import { readNumber } from "../lib/texts/units.js";
import { viewfinder } from "../draw/viewfinder.js";
import { problemText } from "../lib/texts/words.js";

const BUTTON_ZOOM = 1.15;
const TURN_STEP_DEG = 0.5;
const ANNOUNCE_AFTER_MS = 700;
/** A plan is asked for when the fingers rest: reading an answer would hold up the next move. */
const ASK_AFTER_MS = 120;

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const keysId = freshId("keys");
  const finder = viewfinder({ label: t("frame.easel"), describedBy: keysId, change: take });
  const inWords = h("summary", {}, t("sheets.sharp.title"));
  const inFigures = h("p", { class: "small" });
  const sharpness = h("details", { class: "sharpness" }, inWords, inFigures);
  const planner = livePlan({ plan: showSharpness, problem: showProblem, network: (is) => is || showOffline() });
  const guides = new Set(["thirds"]);
  const figures = figureFields();
  const turn = turnFields();
  let announced = "";
  let resting = 0;
  let asking = 0;

  let tools = null;
  tools = bench(root, {
    title: t("frame.title"),
    pictureArea: finder.element,
    sum: [h("div", { class: "finder-sum" }, sharpness, zoomButtons()), h("p", { class: "unseen", id: keysId, text: t("frame.keys") })],
    toolsName: t("view.tools"),
    tools: [
      { id: "turn", name: t("frame.straighten"), icon: lineIcon("M4 18 20 12", "M4 21h16", "M12 4a8 8 0 0 1 7 5"), opened: showFigures, panel: h("div", { class: "panel-part" }, turn.element) },
      { id: "square", name: t("square.title"), icon: lineIcon("M6 4 19 6 17 20 4 17Z"), panel: squarePart(app) },
      { id: "guides", name: t("frame.guides"), icon: lineIcon("M3 4h18v16H3Z", "M9 4v16", "M15 4v16", "M3 9.5h18", "M3 14.5h18"), panel: guideParts() },
      { id: "place", name: t("frame.place"), icon: lineIcon("M4 8h16", "M4 8v4", "M8 8v2.5", "M12 8v4", "M16 8v2.5", "M20 8v4"), opened: showFigures, panel: h("div", { class: "panel-part" },
        h("div", { class: "steppers" }, figures.map((one) => one.element)),
        h("div", { class: "button-row" }, h("button", { type: "button", class: "button", on: { click: reset } }, t("frame.reset")))) },
    ],
    first: "turn",
    actions: [backLink(t("step.paper"), "paper"), nextLink(t("frame.next"), "sheets")],
  });
  redraw(app.state);
  const stop = app.subscribe((state, before) => {
    if (state.photo && (state.frame !== before.frame || state.paper !== before.paper || state.faces !== before.faces)) redraw(state);
  });

  function redraw(state) {
    const frame = frameOf(state);
    finder.show({ frame, photo: state.photo, proportion: proportionOf(state), guides: [...guides] });
    showFigures();
    clearTimeout(asking);
    asking = setTimeout(() => planner.ask(app.state), ASK_AFTER_MS);
  }

  /** Show the figures of the panel that is open. */
  function showFigures() {
    if (!tools) return;
    const frame = frameOf(app.state);
    if (tools.current() === "place") for (const figure of figures) figure.show(figure.of(frame) * 100);
    if (tools.current() === "turn") turn.show(frame.rotateDeg);
  }

  /** Set the frame to the requested one, limited to the photo. */
  function take(asked) {
    const { cx, cy, width, rotateDeg } = frameOf({ ...app.state, frame: asked });
    app.update({ frame: { cx, cy, width, rotateDeg } });
  }

  function reset() {
    app.update({ frame: FRAME_RESET.frame });
    app.announce(t("frame.was-reset"));
  }

  function guideParts() {
    return h("div", {}, ["thirds", "diagonals"].map((name) => toggle(t(`frame.${name}`), guides.has(name), (on) => {
      guides[on ? "add" : "delete"](name);
      redraw(app.state);
    })));
  }

  function zoomButtons() {
    const button = (sign, name, factor) => h("button", {
      type: "button", class: "view-button", "aria-label": name,
      on: { click: () => take(zoomedFrame(frameOf(app.state), app.state.photo, factor)) },
    }, sign);
    return h("div", { class: "view-buttons" },
      button("−", t("frame.wider"), BUTTON_ZOOM), button("+", t("frame.closer"), 1 / BUTTON_ZOOM));
  }

  function figureFields() {
    const figure = (name, of, frameWith) => ({
      of,
      ...stepper({
        label: t(`frame.${name}`), unit: "%", less: t("frame.less", { what: t(`frame.${name}`) }),
        more: t("frame.more", { what: t(`frame.${name}`) }), step: 1, read: readNumber,
        write: (value) => t.number(value, 1),
        change: (percent) => take(frameWith(frameOf(app.state), percent / 100)),
      }),
    });
    return [
      figure("left", (frame) => frame.cx - frame.width / 2, (frame, share) => ({ ...frame, cx: share + frame.width / 2 })),
      figure("top", (frame) => frame.cy - frame.height / 2, (frame, share) => ({ ...frame, cy: share + frame.height / 2 })),
      figure("width", (frame) => frame.width, widened),
    ];
  }

  /** The frame with another width; its left and top edges stay. */
  function widened(frame, share) {
    const largest = largestFrameOf(app.state);
    const width = clamp(share, 0, largest.width);
    const height = (width / largest.width) * largest.height;
    return {
      ...frame, width, cx: frame.cx + (width - frame.width) / 2, cy: frame.cy + (height - frame.height) / 2,
    };
  }

  function turnFields() {
    const take_ = (rotateDeg) => app.update({ frame: { rotateDeg: Math.round(rotateDeg * 100) / 100 } });
    const slider = h("input", {
      type: "range", class: "centred", min: -MOST_TURN_DEG, max: MOST_TURN_DEG, step: TURN_STEP_DEG,
      on: { input: () => take_(Number(slider.value)) },
    });
    const degrees = stepper({
      label: t("frame.degrees"), unit: "°", less: t("frame.turn-left"), more: t("frame.turn-right"),
      step: TURN_STEP_DEG, read: readNumber, write: (value) => t.number(value, 2),
      change: (deg) => take_(clamp(deg, -MOST_TURN_DEG, MOST_TURN_DEG)),
    });
    return {
      element: [field(t("frame.turn"), slider).element, degrees.element],
      show(deg) {
        slider.value = deg;
        slider.setAttribute("aria-valuetext", t("frame.turned", { deg: t.number(deg, 2) }));
        degrees.show(deg);
      },
    };
  }

  function showSharpness(plan) {
    const { grade, finestMm } = sharpnessOf(plan);
    const size = resolvedSizeOf(plan);
    const says = [t(`frame.sharp-${grade}`, { mm: t.number(finestMm, 2) }), size && t("sheets.warning.reference-blurred", size)];
    showMessage(sharpnessIn(t, plan).name, grade === "soft", says.filter(Boolean).join(" "));
  }

  function showProblem(error) {
    if (error.code === "offline") showOffline();
    else showMessage(problemText(t, error), true);
  }

  /** The photo is here, so that it can be framed without the service. */
  function showOffline() {
    showMessage(t("sheets.offline"), false);
  }

  /** The message in words; its figures are there for who opens it. */
  function showMessage(text, wrong, figured = "") {
    fill(inWords, text);
    fill(inFigures, figured);
    sharpness.classList.toggle("wrong", wrong);
    clearTimeout(resting);
    resting = setTimeout(announceMessage, ANNOUNCE_AFTER_MS);
  }

  /** Announce the message when the controls are at rest, not for every pixel of a drag. */
  function announceMessage() {
    const text = inWords.textContent;
    if (text === announced) return;
    announced = text;
    app.announce(text);
  }

  return {
    unmount() {
      clearTimeout(resting);
      clearTimeout(asking);
      stop();
      planner.stop();
      finder.unmount();
    },
  };
}

/** The link to squaring up, or back to the photo as it was. */
function squarePart(app) {
  const { t } = app;
  const place = h("div", { class: "square-part" });
  draw();

  function draw() {
    const { original } = app.state.photo;
    fill(place, h("p", { class: "small", text: t(original ? "square.is" : "square.why") }),
      h("div", { class: "button-row" },
        h("a", { class: "button", href: "#square" }, t(original ? "square.again" : "square.begin")),
        original && h("button", { type: "button", class: "button", on: { click: back } }, t("square.back"))));
  }

  function back() {
    const { original, corners } = app.state.photo;
    app.update({ photo: { ...original, corners }, ...FRAME_RESET });
    draw();
    place.querySelector("a").focus();
    app.announce(t("square.was"));
  }

  return place;
}
