// A class for the next term: everything that was set, and nobody who was in it.

import { freshKey } from "../../api/service.js";
import * as classApi from "../../api/classes.js";
import { form, messageArea, part } from "../parts.js";
import { h } from "../../lib/browser/dom.js";
import { field } from "../../controls/fields.js";

/** @param {object} app @param {{id: string}} group @returns {Element} */
export function copyPart(app, group) {
  const { t } = app;
  const name = h("input", { type: "text", dir: "auto", autocomplete: "off", maxlength: 120 });
  const messages = messageArea(app);
  let key = freshKey();

  async function send() {
    if (!name.value.trim()) {
      name.focus();
      messages.wrong(t("class.name-missing"));
      return;
    }
    const made = await classApi.copyClass(group.id, { name: name.value.trim() }, key);
    key = freshKey();
    app.go(`class/${made.id}/roster`);
  }

  return part(t("copy.title"), h("p", { class: "small", text: t("copy.says") }),
    form({ text: t("copy.make"), kind: "", messages, send, fields: [field(t("class.name"), name).element] }));
}
