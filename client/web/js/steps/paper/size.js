// The size of the support in the paper step: two sides as measured, a name of the trade, or the
// photo's own proportion with its longest side.

import { fill, h } from "../../lib/browser/dom.js";
import { choice, field, select } from "../../controls/fields.js";
import { lengthInput } from "../../controls/length-field.js";
import { beginsName, LEAST_SIDE_MM, MOST_SIDE_MM, mostBorderOf, supportOfName, supportOfSize } from "../../lib/paper/supports.js";
import { lacksUnit, readLength, readSize, UNITS, writeLength, writeLengthUnit, writeSize } from "../../lib/texts/units.js";

/** A larger support is read out in metres too, so that a slip by a factor of ten is seen. */
const LARGE_MM = 3000;
const KINDS = [
  ["cm", (name) => name.endsWith("cm")],
  ["in", (name) => name.endsWith("in")],
  ["iso", (name) => !/(cm|in)$/.test(name)],
];
const SIDES = { widthMm: "paper.width", heightMm: "paper.height", longest: "paper.longest" };

/**
 * @param {object} app
 * @param {function(string)} said Called with what is wrong with the size; empty: nothing.
 * @returns {{element: HTMLElement, load: function(Array), wrong: function(): (Element|null), refuse: function(string)}}
 *   `wrong()` is the field with a size that cannot be; `refuse(text)` is why the service takes none
 */
export function sizeControls(app, said) {
  const { t } = app;
  const element = h("div", { class: "paper-size" });
  const reading = h("p", { class: "reading", role: "status" });
  let supports = [];
  let list = null;
  let turnButton = null;
  let sides = {};
  let trouble = "";
  draw();

  function draw() {
    const { asPhoto } = app.state.paper;
    const like = asPhoto && app.state.photo !== null;
    sides = Object.fromEntries((like ? ["longest"] : ["widthMm", "heightMm"]).map((side) => [side, sideField(side)]));
    fill(element,
      app.state.photo && choice("paper-way", t("paper.way"), ["fixed", "as-photo"].map((way) => [way, t(`paper.${way}`)]), like ? "as-photo" : "fixed", takeWay, { hideLegend: true }),
      h("div", { class: "size-row" }, Object.values(sides).map((side) => side.element), unitField()),
      reading,
      like ? null : namedRow());
    showSize();
  }

  function unitField() {
    return field(t("paper.unit"), select([{ options: UNITS.map((one) => [one, t(`unit.${one}`)]) }], app.state.paper.unit, (unit) => {
      app.update({ paper: { unit } });
      draw();
      element.querySelector(".unit-field select").focus();
    }), { class: "unit-field" }).element;
  }

  function namedRow() {
    const groups = KINDS.map(([kind, is]) => ({
      title: t(`paper.kind-${kind}`), options: supports.filter((one) => is(one.name)).map((one) => [one.name, one.title]),
    }));
    list = select([{ options: [["", t("paper.measured")]] }, ...groups], "", takeNamed);
    turnButton = h("button", { type: "button", class: "button", on: { click: turn } });
    return h("div", { class: "named-row" }, field(t("paper.named"), list).element, turnButton);
  }

  function takeWay(way) {
    const { widthMm, heightMm } = app.state.paper;
    if (way === "fixed") app.update({ paper: { asPhoto: false } });
    else setLongest(Math.max(widthMm, heightMm));
    draw();
    element.querySelector(":checked").focus();
  }

  /** The other side, and which of them is the longer, follow from the photo (state.js). */
  function setLongest(mm) {
    app.update({ paper: { widthMm: mm, heightMm: mm, asPhoto: true } });
  }

  function takeNamed(name) {
    const found = supports.find((one) => one.name === name);
    if (!found) sides.widthMm.control.focus();
    else takeSupport(found);
  }

  function takeSupport(found) {
    const { widthMm, heightMm, unit } = app.state.paper;
    const [short, long] = [found.width_mm, found.height_mm].sort((a, b) => a - b);
    const metric = unit === "in" ? "cm" : unit;
    setSize(...(widthMm > heightMm ? [long, short] : [short, long]), { unit: found.name.endsWith("in") ? "in" : metric });
    draw();
  }

  /** Set the size; a border that does not fit any more shrinks. */
  function setSize(widthMm, heightMm, more = {}) {
    const borderMm = Math.min(app.state.paper.borderMm, mostBorderOf({ widthMm, heightMm }));
    app.update({ paper: { widthMm, heightMm, borderMm, asPhoto: false, ...more } });
  }

  function lengthOf(side) {
    const { widthMm, heightMm } = app.state.paper;
    return side === "longest" ? Math.max(widthMm, heightMm) : app.state.paper[side];
  }

  function sideField(side) {
    const { unit } = app.state.paper;
    const input = lengthInput(unit, writeLength(lengthOf(side), unit, t.language), () => take(side));
    input.addEventListener("change", () => settle(side));
    return field(t(SIDES[side]), input);
  }

  /** The support that a text names; two sides are a size, which says how it lies as well. */
  function namedIn(text) {
    return readSize(text, "cm") ? null : supportOfName(supports, text);
  }

  /** What is typed, as sides in mm: two of them, one, or none that can be read. */
  function sidesOf(side, text) {
    const { paper } = app.state;
    const both = readSize(text, paper.unit);
    const one = readLength(text, paper.unit);
    if (side === "longest") return both ? { longest: Math.max(both.widthMm, both.heightMm) } : one !== null && { longest: one };
    return both ?? (one !== null && { widthMm: paper.widthMm, heightMm: paper.heightMm, [side]: one });
  }

  function take(side) {
    const text = sides[side].control.value;
    if (side !== "longest" && (namedIn(text) || beginsName(supports, text))) return trouble ? showTrouble("") : undefined;
    if (lacksUnit(text) && app.state.paper.unit !== "in") return ask(side, text);
    const found = sidesOf(side, text);
    if (!found || !Object.values(found).every(fits)) return showTrouble(errorOf(found), [side]);
    if (found.longest) setLongest(found.longest);
    else setSize(found.widthMm, found.heightMm, { own: true });
    return showSize();
  }

  /** After a field is left: a name becomes its size, two sides typed into one field are split. */
  function settle(side) {
    const text = sides[side].control.value;
    const named = side === "longest" ? null : namedIn(text);
    if (named) return takeSupport(named);
    // Text that cannot be read stays with its error: the size from before would hide the slip.
    if (beginsName(supports, text)) return showTrouble(errorOf(null), [side]);
    if (trouble) return undefined;
    for (const [one, shown] of Object.entries(sides)) shown.control.value = writeLength(lengthOf(one), app.state.paper.unit, t.language);
    return showSize();
  }

  function errorOf(found) {
    const { unit } = app.state.paper;
    const length = (mm) => writeLengthUnit(mm, unit, t.language);
    return found ? t("paper.outside", { least: length(LEAST_SIDE_MM), most: length(MOST_SIDE_MM) })
      : t("paper.unreadable", { example: t(`paper.example-${unit}`) });
  }

  /** Which unit a fraction without one is meant in: halves and eighths are mostly inches. */
  function ask(side, text) {
    const as = (unit) => h("button", {
      type: "button", class: "button",
      on: {
        click: () => {
          app.update({ paper: { unit } });
          draw();
          const next = sides[side].control;
          next.value = `${text} ${unit}`;
          take(side);
          settle(side);
          next.focus();
        },
      },
    }, t(`unit.${unit}`));
    showTrouble(t("paper.which-unit", { text: text.trim() }), [side]);
    reading.append(h("span", { class: "button-row" }, as("in"), as(app.state.paper.unit)));
  }

  /** Say what is wrong, and let nothing beside it speak for another size. */
  function showTrouble(text, at = Object.keys(sides)) {
    trouble = text;
    for (const [side, shown] of Object.entries(sides)) shown.note("", text !== "" && at.includes(side));
    reading.classList.toggle("wrong", text !== "");
    reading.textContent = text;
    if (list) list.value = "";
    said(text);
  }

  /** Show the parsed size in both systems of units, so that a slip is visible at once. */
  function showSize() {
    const { widthMm, heightMm, unit } = app.state.paper;
    if (trouble) showTrouble("");
    const large = Math.max(widthMm, heightMm) >= LARGE_MM;
    const write = (one) => writeSize(widthMm, heightMm, one, t.language);
    reading.textContent = large ? t("paper.large", { size: write("m") }) : t("paper.reading", { size: write(unit), other: write(unit === "in" ? "mm" : "in") });
    if (!list || app.state.paper.asPhoto) return;
    turnButton.textContent = t(widthMm > heightMm ? "paper.to-portrait" : "paper.to-landscape");
    list.value = supportOfSize(supports, widthMm, heightMm)?.name ?? "";
  }

  function turn() {
    const { widthMm, heightMm } = app.state.paper;
    setSize(heightMm, widthMm, { own: true });
    draw();
    turnButton.focus();
    app.announce(t(heightMm > widthMm ? "paper.is-landscape" : "paper.is-portrait"));
  }

  return {
    element,
    load(found) {
      supports = found;
      // What is being typed stays.
      if (!element.contains(document.activeElement) && !trouble) draw();
    },
    wrong: () => trouble && Object.values(sides).find(({ control }) => control.getAttribute("aria-invalid") === "true")?.control,
    refuse: (text) => showTrouble(text),
  };
}

function fits(mm) {
  return mm >= LEAST_SIDE_MM && mm <= MOST_SIDE_MM;
}
