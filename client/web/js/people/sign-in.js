// Signing in with a key: a tutor's, or a new one that a tutor gave to a student.

import * as classApi from "../api/classes.js";
import { button, form, messageArea } from "../classes/parts.js";
import { h } from "../lib/browser/dom.js";
import { field } from "../controls/fields.js";
import { screenLayout } from "../controls/screen/layout.js";
import { continueAs } from "../api/person.js";

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const key = h("input", { type: "password", autocomplete: "off", autocapitalize: "none", spellcheck: "false", maxlength: 200 });
  const messages = messageArea(app);

  const show = button(t("key.show"), () => {
    const hidden = key.type === "password";
    key.type = hidden ? "text" : "password";
    show.textContent = t(hidden ? "key.hide" : "key.show");
  });

  async function send() {
    const found = await classApi.signIn(key.value.trim());
    await continueAs(app, found.role === "tutor" ? "classes" : await app.firstScreen());
  }

  screenLayout(root, {
    title: t("common.sign-in"), lead: t("sign-in.lead"),
    controls: [
      form({ text: t("sign-in.go"), fields: [field(t("sign-in.key"), key, { note: t("sign-in.note") }).element, h("div", { class: "button-row" }, show)], send, messages }),
      h("p", {}, h("a", { class: "button quiet flush", href: "#join" }, t("sign-in.to-join"))),
    ],
  });
  return { unmount() {} };
}
