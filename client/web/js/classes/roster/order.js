// The order of the roster, which print runs, separators and the board follow. A line moves up or
// down by a step, or to a typed place; one button sorts all by name.

import * as classApi from "../../api/classes.js";
import { foundList } from "../found-list.js";
import { button } from "../parts.js";
import { h } from "../../lib/browser/dom.js";

/**
 * @param {object} app
 * @param {object} how
 * @param {string} how.classId
 * @param {Array<{id: string, name: string}>} how.students in their order
 * @param {object} how.messages
 * @param {function()} how.done called when the person has finished
 * @returns {{element: HTMLElement}}
 */
export function orderList(app, { classId, students, messages, done }) {
  const { t } = app;
  const list = h("ol", { class: "lines order-lines" });
  const lines = new Map(students.map((one) => [one.id, lineOf(one)]));
  let order = students.map(({ id }) => id);
  const names = new Map(students.map((one) => [one.id, one.name]));
  let saving = Promise.resolve();
  const finder = foundList(app, show);
  draw();

  function draw() {
    finder.set(order.map((id, place) => ({ id, place, name: names.get(id) })));
  }

  function show(items) {
    items.forEach(({ id, place }, at) => {
      const { element, input, up, down } = lines.get(id);
      input.value = place + 1;
      up.setAttribute("aria-disabled", String(place === 0));
      down.setAttribute("aria-disabled", String(place === order.length - 1));
      if (list.children[at] !== element) list.insertBefore(element, list.children[at] ?? null);
    });
    while (list.children.length > items.length) list.lastChild.remove();
  }

  function lineOf({ id, name }) {
    const input = h("input", {
      type: "text", inputmode: "numeric", autocomplete: "off", maxlength: 3, "aria-label": t("roster.place-of", { name }),
      on: { change: () => typed(id, input) },
    });
    const step = (by, sign, key) => h("button", {
      type: "button", class: "sign", "aria-label": t(key, { name }), on: { click: (event) => move(id, order.indexOf(id) + by, event.currentTarget) },
    }, sign);
    const [up, down] = [step(-1, "↑", "roster.up"), step(1, "↓", "roster.down")];
    return { input, up, down, element: h("li", {}, input, h("span", { class: "line-name", dir: "auto", text: name }), up, down) };
  }

  function typed(id, input) {
    const place = /^\d+$/.test(input.value.trim()) ? Number(input.value) : 0;
    move(id, Math.min(place, order.length) - 1, input);
  }

  /** Move a student to a place from 0; the focus moves with the line. */
  function move(id, place, focus) {
    const from = order.indexOf(id);
    if (place >= 0 && place < order.length && place !== from) {
      order.splice(from, 1);
      order.splice(place, 0, id);
      save();
      app.announce(t("roster.placed", { name: names.get(id), place: place + 1 }));
    }
    draw();
    focus.focus({ preventScroll: true });
    lines.get(id).element.scrollIntoView({ block: "nearest" });
  }

  function byName() {
    const { compare } = new Intl.Collator(t.language, { numeric: true });
    order.sort((one, other) => compare(names.get(one), names.get(other)));
    draw();
    save();
    app.announce(t("roster.by-name-done"));
  }

  /** Save one after the other, so that the last order wins. */
  function save() {
    const wanted = [...order];
    saving = saving.then(() => classApi.orderStudents(classId, wanted)).then(messages.clear, messages.wrong);
  }

  async function finish() {
    await saving;
    done();
  }

  const element = h("div", { class: "stack" }, h("p", { class: "small", text: t("roster.order-note") }),
    h("div", { class: "button-row" }, button(t("roster.order-done"), finish, "primary"), button(t("roster.by-name"), byName)), finder.field, list, finder.more);
  return { element };
}
