// A link that a tutor has shown to a student who lost their key: one tap, and this device is
// theirs. Nothing is sent before the tap, since a link that is only looked at must not be used up.

import * as classApi from "../api/classes.js";
import { button, messageArea } from "../classes/parts.js";
import { h } from "../lib/browser/dom.js";
import { screenLayout } from "../controls/screen/layout.js";
import { continueAs } from "../api/person.js";

/** @returns {{unmount: function}} */
export function mount(root, app, { id: secret }) {
  const { t } = app;
  const messages = messageArea(app);
  const { role, name } = app.person;

  const use = button(t("new-key.use"), async () => {
    use.disabled = true;
    try {
      await classApi.takeNewKey(secret);
      await continueAs(app, await app.firstScreen());
      app.announce(t("new-key.done"));
    } catch (error) {
      messages.wrong(error.status === 404 ? t("new-key.gone") : error);
      use.disabled = false;
    }
  }, "primary");
  screenLayout(root, {
    title: t("new-key.title"), lead: t("new-key.lead"),
    controls: [
      (role === "tutor" || role === "student") && h("p", { class: "notice", text: t(`join.already-${role}`, { name }) }),
      h("div", { class: "button-row" }, use), messages.element,
      h("p", {}, h("a", { class: "button quiet flush", href: "#join" }, t("sign-in.to-join"))),
    ],
  });
  return { unmount() {} };
}
