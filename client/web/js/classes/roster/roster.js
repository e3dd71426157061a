// The roster: names typed, pasted or read from a table, and found in.

import * as classApi from "../../api/classes.js";
import { orderList } from "./order.js";
import { foundList } from "../found-list.js";
import { openStudent } from "./student-dialog.js";
import { button, form, keyedList, messageArea, part, classLayout } from "../parts.js";
import { fill, h } from "../../lib/browser/dom.js";
import { field } from "../../controls/fields.js";

/** @returns {{unmount: function}} */
export function mount(root, app, { id }) {
  const { t } = app;
  const list = h("ol", { class: "lines roster" });
  const finder = foundList(app, keyedList(list, (one) => lineOf(one)));
  const names = h("textarea", { rows: 8, autocomplete: "off", spellcheck: "false", dir: "auto", maxlength: 90000 });
  const file = h("input", { type: "file", class: "unseen", accept: ".csv,.txt,.tsv,text/csv,text/plain", on: { change: takeFile } });
  const [messages, listMessages] = [messageArea(app), messageArea(app)];
  const count = h("p", { class: "small", role: "status" });
  const order = button(t("roster.order"), putInOrder, "quiet flush");
  const toNames = button(t("roster.add"), () => names.focus(), "quiet flush phone-only");
  const head = h("div", { class: "roster-head" }, count, order, toNames);
  const whole = [finder.field, list, finder.more];
  const place = h("div", { class: "stack" }, whole);
  let there = [];
  const { heading } = classLayout(root, app, {
    title: t("room.way-roster"), id, view: "roster",
    main: [head, listMessages.element, place],
    side: [part(t("roster.add"),
      form({ text: t("roster.put"), fields: [field(t("roster.names"), names, { note: t("roster.names-note") }).element], send, messages }),
      h("label", { class: "button picker" }, file, h("span", { text: t("roster.file") })),
      h("p", { class: "small", text: t("roster.file-note") }))],
  });
  classApi.oneClass(id).then((group) => { heading.textContent = t("roster.of", { name: group.name }); }, listMessages.wrong);
  load();

  async function load() {
    try {
      const { items } = await classApi.students(id);
      there = items;
      order.hidden = items.length < 2;
      toNames.hidden = items.length === 0;
      count.textContent = t("roster.count", { count: items.length });
      finder.set(items.map((one, place) => ({ ...one, place: place + 1 })));
    } catch (error) {
      listMessages.wrong(error);
    }
  }

  /** Replace the list by the one for ordering, and reload it afterwards. */
  function putInOrder() {
    const ordering = orderList(app, { classId: id, students: there, messages: listMessages, done: () => {
      fill(place, whole);
      order.hidden = false;
      load();
      order.focus();
    } });
    order.hidden = true;
    fill(place, ordering.element);
    place.querySelector("button").focus({ preventScroll: true });
  }

  async function send() {
    if (!names.value.trim()) {
      names.focus();
      messages.wrong(t("roster.names-missing"));
      return;
    }
    showAdded(await classApi.addStudents(id, names.value));
    names.value = "";
  }

  async function takeFile() {
    const [chosen] = file.files;
    file.value = "";
    if (!chosen) return;
    messages.clear();
    try {
      showAdded(await classApi.addTable(id, chosen));
    } catch (error) {
      messages.wrong(error);
    }
  }

  function showAdded({ items, known = [] }) {
    const more = known.length ? ` ${t("roster.known", { count: known.length })}` : "";
    messages.good(t("roster.added", { count: items.length }) + more);
    load();
  }

  function lineOf(one) {
    return h("li", { class: one.withdrawn ? "gone" : "", data: { place: one.place } },
      h("span", { class: "line-who" }, h("span", { class: "line-name", dir: "auto", text: one.name }),
        h("span", { class: "small", text: t(one.withdrawn ? "roster.withdrawn" : one.joined ? "class.here" : "class.not-here") })),
      h("button", {
        type: "button", class: "button quiet", "aria-haspopup": "dialog", "aria-label": t("roster.change-of", { name: one.name }),
        on: { click: () => openStudent(app, id, one, load) },
      }, t("roster.change")));
  }

  return { unmount() {} };
}
