// The person's own page: role, stored data and its retention, a copy of it, and its deletion.

import { frame } from "../api/access.js";
import * as classApi from "../api/classes.js";
import { confirmAction, button, messageArea, part, classLayout } from "../classes/parts.js";
import { dayOf } from "../lib/texts/dates.js";
import { fill, h } from "../lib/browser/dom.js";
import { ownKeys, siteKeys } from "./keys.js";
import { forgetPerson, leave } from "../api/person.js";

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const { role, name, group, keepDays } = app.person;
  let { usage } = app.person;
  const messages = messageArea(app);
  const storedList = h("ul", { class: "plain-list" });
  drawStored();
  if (usage) countAnew();
  classLayout(root, app, {
    title: name && role !== "local" ? name : t("person.own"),
    lead: group ? t("me.in-class", { group: group.name }) : t(`me.as-${role}`),
    main: [
      part(t("me.kept"), storedList),
      // A session neither copies everything nor deletes it.
      !frame && part(t("me.copy"), h("p", { text: t("me.copy-note") }),
        h("p", {}, h("a", { class: "button", href: classApi.EXPORT, download: true }, t("me.export")))),
      role === "tutor" && [numberPart(), ownKeys(app), siteKeys(app)],
      !frame && part(t("me.end"), h("p", { text: t(`me.end-${role}`) }), h("div", { class: "button-row" },
        role !== "local" && button(t("me.sign-out"), signOut),
        button(t("me.delete"), askDelete, "danger")), messages.element),
    ],
  });

  function drawStored() {
    fill(storedList, storedLines().map((text) => h("li", { text })));
  }

  /** Update the usage; without an answer the old figures stay. */
  async function countAnew() {
    try {
      usage = (await classApi.me()).usage ?? usage;
      drawStored();
    } catch {
      // They are shown as they were.
    }
  }

  function storedLines() {
    const lines = [keepDays === null ? t("me.kept-local") : t("me.kept-days", { count: keepDays })];
    if (usage) lines.push(usageLine("photos"), usageLine("packs"), usageLine("pages"));
    if (group?.closes_at) lines.push(t("me.closes", { day: dayOf(t, group.closes_at) }));
    // Only where a key is asked for does the browser keep one.
    if (!frame) lines.push(t(role === "local" ? "me.stays-here" : "join.kept-net"));
    return lines;
  }

  function usageLine(kind) {
    const most = group.settings[kind];
    const key = most === null ? `me.has-${kind}` : `me.has-${kind}-of`;
    return t(key, { count: usage[kind], most });
  }

  /** The number by which another tutor adds this one to a class. */
  function numberPart() {
    return part(t("tutors.mine"), h("p", { text: t("tutors.mine-note") }), h("p", {}, h("code", { class: "key", text: app.person.id })));
  }

  async function signOut() {
    await leave(app);
    await app.switchPerson("join");
  }

  function askDelete() {
    confirmAction(app, {
      title: t("me.delete"), says: t(`me.end-${role}`), yes: t("me.delete-yes"),
      act: async () => {
        await classApi.deleteMe();
        await forgetPerson(app);
        await app.switchPerson(role === "local" ? "photo" : "join");
        app.announce(t("me.deleted"));
      },
    });
  }

  return { unmount() {} };
}
