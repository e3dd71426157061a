// The form that makes the first tutor of a service, at the service's machine only.

import * as classApi from "../api/classes.js";
import { button, confirmAction, form, keyPanel, messageArea } from "../classes/parts.js";
import { fill, h } from "../lib/browser/dom.js";
import { field } from "../controls/fields.js";
import { screenLayout } from "../controls/screen/layout.js";

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const name = h("input", { type: "text", autocomplete: "name", maxlength: 120 });
  const messages = messageArea(app);
  const ask = form({ text: t("teach.make"), fields: [field(t("teach.name"), name, { note: t("teach.name-note") }).element], send, messages });
  screenLayout(root, {
    title: t("teach.title"), lead: t("teach.lead"),
    controls: [h("ul", { class: "plain-list" }, ["keys", "yours", "room", "back"].map((one) => h("li", { text: t(`teach.${one}`) }))), ask],
  });

  async function send() {
    if (!name.value.trim()) {
      name.focus();
      messages.wrong(t("teach.name-missing"));
      return;
    }
    // It changes the service for everybody, so one tap does not do it.
    confirmAction(app, {
      title: t("teach.sure"), says: t("teach.sure-says"), yes: t("teach.yes"),
      act: async () => {
        const { key } = await classApi.makeTutor(name.value);
        showKey(key);
      },
    });
  }

  function showKey(key) {
    screenLayout(root, {
      title: t("teach.done"), lead: t("teach.done-lead"),
      controls: [keyPanel(app, key)],
      actions: [button(t("teach.on"), () => app.switchPerson("classes"), "primary")],
    });
    app.announce(t("teach.done"));
    root.querySelector("h1").focus();
    fill(messages.element);
  }

  return { unmount() {} };
}
