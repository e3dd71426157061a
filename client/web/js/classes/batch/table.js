// The students of a batch, and what differs for each. A student may have several packs, each a
// line with its own support.

import { fill, freshId, h } from "../../lib/browser/dom.js";
import { foundList } from "../found-list.js";
import { button } from "../parts.js";
import { select } from "../../controls/fields.js";
import { example } from "../settings/settings.js";
import { readSize } from "../../lib/texts/units.js";

/**
 * @param {object} app
 * @param {function} changed called when a line has changed
 * @returns {{element, load: function(Array, Array), lines: function(): (Array|null)}}
 *   `lines()` gives {student, size, format} of each pack, or null if a size is unreadable; a
 *   student without an id stands for the tutor's own copy
 */
export function batchTable(app, changed) {
  const { t } = app;
  const { unit } = app.state.paper;
  const list = h("ul", { class: "batch-lines" });
  const finder = foundList(app, (found) => fill(list, found.map((one) => one.element)));
  let people = [];
  let formats = [];

  function load(students, known) {
    formats = known;
    const there = students.filter((one) => !one.withdrawn);
    people = [...there.map((one) => personOf(one, true)), personOf({ id: "", name: t("batch.own-copy") }, false)];
    finder.set(people);
  }

  /** Tick, or leave out, all who were found. */
  function tickAll(on) {
    for (const one of finder.found()) one.box.checked = on;
    changed();
  }

  function personOf(student, ticked) {
    const id = freshId("for");
    const box = h("input", { type: "checkbox", id, checked: ticked, on: { change: changed } });
    const place = h("div", { class: "batch-wants" });
    const wants = [];
    const differs = h("button", {
      type: "button", class: "button quiet", "aria-expanded": "false", "aria-label": t("batch.differs-of", { name: student.name }),
      on: { click: () => open(place.hidden) },
    }, t("batch.differs"));
    const more = h("button", {
      type: "button", class: "sign", "aria-label": t("batch.more-of", { name: student.name }), title: t("batch.more"),
      on: { click: () => add().size.focus() },
    }, "+");

    /** Lines are short until a student's own size or sheet is wanted. */
    function open(on) {
      place.hidden = !on;
      differs.setAttribute("aria-expanded", String(on));
      if (on) wants[0].size.focus();
    }

    function add() {
      const want = wantOf(student, () => {
        wants.splice(wants.indexOf(want), 1);
        draw();
        more.focus();
        changed();
      });
      wants.push(want);
      box.checked = true;
      draw();
      changed();
      return want;
    }

    /** Draw the lines; the first one has the button that adds another. */
    function draw() {
      fill(place, wants.map((want, index) => h("div", { class: "batch-want" }, want.size, want.format, index === 0 ? more : want.less)));
    }

    wants.push(wantOf(student, () => {}));
    draw();
    place.hidden = true;
    return {
      student, box, wants, name: student.name,
      element: h("li", {}, h("div", { class: "batch-who" },
        h("span", { class: "tick" }, box, h("label", { for: id, dir: "auto", text: student.name })), differs), place),
    };
  }

  function wantOf(student, dropped) {
    const size = h("input", {
      type: "text", autocomplete: "off", maxlength: 40, placeholder: t("batch.as-all"),
      "aria-label": t("batch.size-of", { name: student.name, example: example(unit) }), on: { input: changed },
    });
    const format = select([{ options: [["", t("batch.as-all")], ...formats.map((one) => [one.name, one.title])] }], "", changed);
    format.setAttribute("aria-label", t("batch.format-of", { name: student.name }));
    const less = h("button", {
      type: "button", class: "sign", "aria-label": t("batch.less-of", { name: student.name }), title: t("batch.less"), on: { click: dropped },
    }, "×");
    return { student, size, format, less };
  }

  function readWant({ student, size, format }) {
    const read = readSize(size.value, unit);
    const fine = size.value.trim() === "" || read !== null;
    size.setAttribute("aria-invalid", String(!fine));
    return fine ? { student, size: read, format: format.value } : null;
  }

  return {
    element: h("div", { class: "stack" }, finder.field,
      h("div", { class: "button-row all-row" }, button(t("find.all"), () => tickAll(true), "quiet"), button(t("find.none"), () => tickAll(false), "quiet")),
      list, finder.more),
    load,
    lines() {
      const read = people.filter(({ box }) => box.checked).flatMap(({ wants }) => wants).map(readWant);
      return read.includes(null) ? null : read;
    },
  };
}
