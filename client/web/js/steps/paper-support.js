// The controls of the support in the paper step: by its trade name, or by its measured sides,
// since paper seldom has exactly the size of its name.

import { fill, h } from "../lib/dom.js";
import { choice, field, select } from "../controls/fields.js";
import { lengthField, lengthInput } from "../controls/length-field.js";
import { readLength, readSize, UNITS, writeLength, writeLengthUnit, writeSize } from "../lib/units.js";

/** The API's limits. */
const LEAST_MM = 20;
const MOST_MM = 10_000;
/** Supports whose sides differ by less are equal. */
const SAME_MM = 0.06;
/** What is drawn with; pastel stands for charcoal too. */
const MEDIA = ["other", "graphite", "coloured-pencil", "pastel", "paint"];
const SIDES = [["widthMm", "paper.width"], ["heightMm", "paper.height"]];
const KINDS = [
  ["cm", (name) => name.endsWith("cm")],
  ["in", (name) => name.endsWith("in")],
  ["iso", (name) => !/(cm|in)$/.test(name)],
];

/** Name, sides and orientation of the support. @returns {{element, load: function(Array)}} */
export function supportControls(app) {
  const { t } = app;
  const named = h("div");
  const measured = h("div", { class: "paper-measured" });
  let supports = [];
  let list = null;
  let sides = {};

  const reading = h("p", { class: "note reading", "aria-live": "polite" });
  const turnButton = h("button", { type: "button", class: "button", on: { click: turn } });
  drawNamed();
  drawMeasured();

  function drawNamed() {
    const groups = KINDS.map(([kind, is]) => ({
      title: t(`paper.kind-${kind}`),
      options: supports.filter((one) => is(one.name)).map((one) => [one.name, one.title]),
    }));
    list = select([{ options: [["", t("paper.measured")]] }, ...groups], nameOf(), takeNamed);
    fill(named, field(t("paper.named"), list).element);
  }

  function nameOf() {
    const { widthMm, heightMm } = app.state.paper;
    return supports.find((one) => isSize(one, widthMm, heightMm) || isSize(one, heightMm, widthMm))?.name ?? "";
  }

  function takeNamed(name) {
    const found = supports.find((one) => one.name === name);
    if (!found) {
      sides.widthMm.control.focus();
      return;
    }
    const { widthMm, heightMm, unit } = app.state.paper;
    const [short, long] = [found.width_mm, found.height_mm].sort((a, b) => a - b);
    const metric = unit === "in" ? "cm" : unit;
    setSize(...(widthMm > heightMm ? [long, short] : [short, long]), { unit: name.endsWith("in") ? "in" : metric });
    drawMeasured();
  }

  /** Set the size; a border that does not fit any more shrinks. */
  function setSize(widthMm, heightMm, more = {}) {
    const borderMm = Math.min(app.state.paper.borderMm, mostBorder({ widthMm, heightMm }));
    app.update({ paper: { widthMm, heightMm, borderMm, ...more } });
  }

  function drawMeasured() {
    const { unit } = app.state.paper;
    sides = Object.fromEntries(SIDES.map(([side, label]) => [side, sideField(side, label)]));
    fill(measured,
      choice("unit", t("paper.unit"), UNITS.map((one) => [one, t(`unit.${one}`)]), unit, (next) => {
        app.update({ paper: { unit: next } });
        drawMeasured();
        measured.querySelector(":checked").focus();
      }, { hideLegend: true }),
      h("div", { class: "fields" }, sides.widthMm.element, sides.heightMm.element), reading, turnButton);
    showSize();
  }

  function sideField(side, label) {
    const { unit } = app.state.paper;
    const input = lengthInput(unit, "", () => take(side));
    input.addEventListener("change", settle);
    const shown = field(t(label), input, { unit });
    input.value = writeLength(app.state.paper[side], unit, t.language);
    return shown;
  }

  function take(side) {
    const { paper } = app.state;
    const text = sides[side].control.value;
    const one = readLength(text, paper.unit);
    const both = readSize(text, paper.unit);
    const size = both ?? (one === null ? null : { widthMm: paper.widthMm, heightMm: paper.heightMm, [side]: one });
    const right = size !== null && fits(size.widthMm) && fits(size.heightMm);
    for (const shown of right && both ? Object.values(sides) : [sides[side]]) shown.note("", !right);
    if (!right) return showSizeError(size);
    setSize(size.widthMm, size.heightMm);
    return showSize();
  }

  /**
   * After a field is left: split two sides that were typed into one field. Unreadable text stays
   * with its error, since the size from before would hide the slip.
   */
  function settle() {
    const wrong = Object.keys(sides).find((side) => sides[side].control.getAttribute("aria-invalid") === "true");
    if (wrong) take(wrong);
    else rewrite();
  }

  function rewrite() {
    for (const [side, shown] of Object.entries(sides)) {
      shown.control.value = writeLength(app.state.paper[side], app.state.paper.unit, t.language);
      shown.note("", false);
    }
    showSize();
  }

  function showSizeError(size) {
    const { unit } = app.state.paper;
    const length = (mm) => writeLengthUnit(mm, unit, t.language);
    reading.classList.add("wrong");
    reading.textContent = size === null
      ? t("paper.unreadable", { example: t(`paper.example-${unit}`) })
      : t("paper.outside", { least: length(LEAST_MM), most: length(MOST_MM) });
  }

  /** Show the parsed size in both systems of units, so that a slip is visible at once. */
  function showSize() {
    const { widthMm, heightMm, unit } = app.state.paper;
    reading.classList.remove("wrong");
    reading.textContent = t("paper.reading", {
      size: writeSize(widthMm, heightMm, unit, t.language),
      other: writeSize(widthMm, heightMm, unit === "in" ? "mm" : "in", t.language),
    });
    turnButton.textContent = t(widthMm > heightMm ? "paper.to-portrait" : "paper.to-landscape");
    list.value = nameOf();
  }

  function turn() {
    const { widthMm, heightMm } = app.state.paper;
    app.update({ paper: { widthMm: heightMm, heightMm: widthMm } });
    rewrite();
    app.announce(t(heightMm > widthMm ? "paper.is-landscape" : "paper.is-portrait"));
  }

  return {
    element: [named, measured],
    load(found) {
      supports = found;
      drawNamed();
    },
  };
}

/** Border, tone and medium of the drawing. @returns {{element: Array, unmount: function}} */
export function drawnControls(app) {
  const { t } = app;
  const border = h("div");
  const tones = ["light", "mid", "dark"].map((tone) => [tone, [
    h("span", { class: `swatch tone-${tone}`, "aria-hidden": "true" }), t(`paper.tone-${tone}`)]]);
  const media = MEDIA.map((one) => [one, t(`paper.medium-${one}`)]);
  const medium = select([{ options: media }], app.state.paper.medium, (one) => app.update({ paper: { medium: one } }));
  draw();
  const stop = app.subscribe((state, before) => {
    const typing = border.contains(document.activeElement);
    const other = state.paper.unit !== before.paper.unit || state.paper.borderMm !== before.paper.borderMm;
    if (other && !typing) draw();
  });

  function draw() {
    fill(border, lengthField(t, {
      label: t("paper.border"), note: t("paper.border-note"), mm: app.state.paper.borderMm, unit: app.state.paper.unit,
      most: () => mostBorder(app.state.paper), change: (borderMm) => app.update({ paper: { borderMm } }),
    }));
  }

  return {
    element: [border, h("div", {},
      choice("tone", t("paper.tone"), tones, app.state.paper.tone, (tone) => app.update({ paper: { tone } })),
      h("p", { class: "note", text: t("paper.tone-note") })),
    field(t("paper.medium"), medium, { note: t("paper.medium-note") }).element],
    unmount: stop,
  };
}

function mostBorder({ widthMm, heightMm }) {
  return Math.max((Math.min(widthMm, heightMm) - LEAST_MM) / 2, 0);
}

function isSize(one, widthMm, heightMm) {
  return Math.abs(one.width_mm - widthMm) < SAME_MM && Math.abs(one.height_mm - heightMm) < SAME_MM;
}

function fits(mm) {
  return mm >= LEAST_MM && mm <= MOST_MM;
}
