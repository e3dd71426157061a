// Joining a class: the code on the board, and a name. What is stored, for how long, and who sees
// it stands before the button.

import * as classApi from "../api/classes.js";
import { button, form, messageArea } from "../classes/parts.js";
import { foundList } from "../classes/found-list.js";
import { fill, freshId, h } from "../lib/browser/dom.js";
import { field } from "../controls/fields.js";
import { screenLayout } from "../controls/screen/layout.js";
import { continueAs } from "../api/person.js";

/** @returns {{unmount: function}} */
export function mount(root, app, { id: linked }) {
  const { t } = app;
  const code = h("input", {
    type: "text", class: "code-input", autocomplete: "off", autocapitalize: "characters", spellcheck: "false",
    maxlength: 40, value: linked ?? "",
  });
  const messages = messageArea(app);
  const place = h("div", { class: "join-place" });
  screenLayout(root, { title: t("common.join"), lead: t("join.lead"), controls: [already(), place] });
  askCode();
  if (linked) lookUpCode().catch(messages.wrong);

  /** A notice for a person with a key, who would lose it by joining. */
  function already() {
    const { role, name } = app.person;
    if (role !== "tutor" && role !== "student") return null;
    return h("p", { class: "notice", text: t(`join.already-${role}`, { name }) });
  }

  function askCode() {
    fill(place, form({ text: t("join.look"), fields: [field(t("join.code"), code, { note: t("join.code-note") }).element], send: lookUpCode, messages }),
      h("p", {}, h("a", { class: "button quiet flush", href: "#sign-in" }, t("join.have-key"))));
  }

  async function lookUpCode() {
    if (!code.value.trim()) {
      code.focus();
      messages.wrong(t("join.code-missing"));
      return;
    }
    const found = await classApi.fetchJoinCode(code.value.trim());
    messages.clear();
    askName(found);
  }

  function askName(found) {
    const chosen = { id: null };
    const name = h("input", { type: "text", autocomplete: "name", maxlength: 120 });
    const byName = field(t(found.names?.length ? "join.or-name" : "join.name"), name, {
      note: t(found.open_roster ? "join.name-note-open" : "join.name-note"),
    }).element;
    const names = found.names?.length ? namesOf(found.names, chosen, () => { name.value = ""; }) : null;
    name.addEventListener("input", () => {
      chosen.id = null;
      names?.querySelector(":checked")?.removeAttribute("checked");
      for (const one of names?.querySelectorAll("input") ?? []) one.checked = false;
    });
    const typed = !names || found.open_roster;
    fill(place, h("h2", { tabindex: "-1", text: found.class_name }),
      form({ text: t("join.go"), fields: [names, typed && byName, storedNotice(found.keep_days)], send: () => join(chosen, name), messages }),
      h("p", {}, button(t("join.other-code"), askCode, "quiet flush")));
    place.querySelector("h2").focus({ preventScroll: true });
  }

  function namesOf(names, chosen, picked) {
    const stem = freshId("who");
    const lines = new Map(names.map((one, place_) => [one, h("div", { class: "name-one" },
      h("input", {
        type: "radio", name: stem, id: `${stem}-${place_}`,
        on: { change: () => { chosen.id = one.student_id; picked(); } },
      }),
      h("label", { for: `${stem}-${place_}`, dir: "auto", text: one.name }))]));
    const list = h("div", { class: "names-list" });
    const finder = foundList(app, (found) => fill(list, found.map((one) => lines.get(one))));
    finder.set(names);
    return h("fieldset", { class: "names" }, h("legend", { text: t("join.who") }), finder.field, list, finder.more);
  }

  async function join(chosen, name) {
    if (!chosen.id && !name.value.trim()) {
      messages.wrong(t("join.name-missing"));
      (place.querySelector(".names input") ?? name).focus();
      return;
    }
    const who = chosen.id ? { student_id: chosen.id } : { name: name.value.trim() };
    await classApi.join({ code: code.value.trim(), ...who });
    await continueAs(app, "photo");
    app.announce(t("join.done"));
  }

  function storedNotice(days) {
    return h("details", { class: "kept", open: true }, h("summary", { text: t("join.kept") }),
      h("ul", { class: "plain-list small" }, ["what", "who", "long", "gone", "net"].map((one) => h("li", { text: t(`join.kept-${one}`, { count: days }) }))));
  }

  return { unmount() {} };
}
