// Who teaches in a class: its own tutor, who adds others by the number that each finds on their
// own page and takes them away, and second tutors, who may leave.

import * as classApi from "../../api/classes.js";
import { button, confirmAction, form, messageArea, part } from "../parts.js";
import { fill, h } from "../../lib/browser/dom.js";
import { field } from "../../controls/fields.js";

/** @param {object} app @param {{id: string, name: string}} group @returns {Element} */
export function tutorsPart(app, group) {
  const { t } = app;
  const me = app.person.id;
  const list = h("ul", { class: "lines" });
  const place = h("div");
  const messages = messageArea(app);
  const id = h("input", { type: "text", autocomplete: "off", autocapitalize: "none", spellcheck: "false", maxlength: 80 });
  load().catch(messages.wrong);

  async function load() {
    const { items } = await classApi.tutors(group.id);
    const mine = items.some((one) => one.id === me && one.owns);
    fill(list, items.map((one) => lineOf(one, mine)));
    fill(place, mine ? adding : messages.element);
  }

  function lineOf(one, mine) {
    const leaves = one.id === me;
    return h("li", {}, h("span", { class: "line-who" }, h("span", { class: "line-name", dir: "auto", text: one.name }),
      one.owns && h("span", { class: "small", text: t("tutors.owns") })),
    !one.owns && (mine || leaves) && button(t(leaves ? "tutors.leave" : "tutors.remove"), () => confirmAction(app, {
      title: t(leaves ? "tutors.leave-title" : "tutors.remove-title", { name: leaves ? group.name : one.name }),
      says: t("tutors.remove-says"), yes: t(leaves ? "tutors.leave" : "tutors.remove"),
      act: async () => {
        await classApi.removeTutor(group.id, one.id);
        if (leaves) app.go("classes");
        else await load();
      },
    }), "quiet"));
  }

  const adding = form({
    text: t("tutors.add"), kind: "", messages, fields: [field(t("tutors.number"), id, { note: t("tutors.number-note") }).element],
    send: async () => {
      if (!id.value.trim()) {
        id.focus();
        messages.wrong(t("tutors.missing"));
        return;
      }
      const added = await classApi.addTutor(group.id, id.value.trim()).catch((error) => {
        throw [404, 422].includes(error.status) ? t("tutors.unknown") : error;
      });
      id.value = "";
      messages.good(t("tutors.added", { name: added.name }));
      await load();
    },
  });
  return part(t("tutors.title"), list, place);
}
