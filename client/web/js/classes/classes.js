// The list of a tutor's classes, and the form for a new one.

import { freshKey } from "../api/service.js";
import * as classApi from "../api/classes.js";
import { form, messageArea, part, classLayout } from "./parts.js";
import { fill, h } from "../lib/browser/dom.js";
import { field } from "../controls/fields.js";

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const list = h("ul", { class: "class-list" });
  const empty = h("p", { class: "lead", hidden: true, text: t("class.none") });
  const name = h("input", { type: "text", autocomplete: "off", maxlength: 120 });
  const [messages, listMessages] = [messageArea(app), messageArea(app)];
  let key = freshKey();
  classLayout(root, app, {
    title: t("common.classes"),
    main: [listMessages.element, empty, list],
    side: [part(t("class.new"), form({
      text: t("class.make"), fields: [field(t("class.name"), name, { note: t("class.name-note") }).element], send, messages,
    }))],
  });
  load();

  async function load() {
    try {
      const { items } = await classApi.classes();
      empty.hidden = items.length > 0;
      fill(list, items.map(line));
    } catch (error) {
      listMessages.wrong(error);
    }
  }

  function line(one) {
    const state = one.closed ? "class.is-over" : one.joining_open ? "class.is-open" : "class.is-shut";
    return h("li", {}, h("a", { href: `#class/${one.id}` },
      h("span", { class: "class-name", dir: "auto", text: one.name }),
      h("span", { class: "small", text: t(state) }),
      h("span", { class: "arrow", "aria-hidden": "true", text: "→" })));
  }

  async function send() {
    if (!name.value.trim()) {
      name.focus();
      messages.wrong(t("class.name-missing"));
      return;
    }
    const made = await classApi.makeClass({ name: name.value }, key);
    key = freshKey();
    app.go(`class/${made.id}/roster`);
  }

  return { unmount() {} };
}
