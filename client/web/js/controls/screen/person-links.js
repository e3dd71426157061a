// Links to a person's own pages, by role: in the bar, in the settings, under the first step.

import { frame } from "../../api/access.js";
import { h } from "../../lib/browser/dom.js";

/** The link in the bar to the person's own page; on phones it is in the settings. */
export function personLink(app) {
  const { role, name } = app.person;
  if (role === "tutor") return h("a", { class: "bar-link", href: "#classes" }, app.t("common.classes"));
  if (role === "student") return h("a", { class: "bar-link", href: "#me" }, name);
  return null;
}

/** The links as buttons in the settings. */
export function personLinks(app, close) {
  const { role } = app.person;
  const link = (to, key) => h("a", { class: "button", href: `#${to}`, on: { click: close } }, app.t(key));
  const own = [link("shelf", "common.shelf"), link("me", "person.own")];
  if (role === "local") return [...own, link("teach", "person.teach")];
  if (role === "tutor") return [link("classes", "common.classes"), ...own];
  if (role === "student") return own;
  return frame ? [] : [link("join", "common.join"), link("sign-in", "common.sign-in")];
}

/** The link under the first step: the student's class, the tutor's classes, or becoming a tutor. */
export function personFoot(app) {
  const { role, name, group } = app.person;
  const link = (to, text) => h("a", { class: "button quiet flush", href: `#${to}`, text });
  if (role === "local") return h("p", {}, link("teach", app.t("person.teach")));
  if (role === "tutor") return h("p", {}, link("classes", app.t("person.to-classes")));
  if (role !== "student" || !group) return null;
  return h("p", {}, link("me", app.t("person.in-class", { name, group: group.name })));
}
