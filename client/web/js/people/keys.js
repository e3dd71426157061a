// A tutor's keys: one for each device, the browsers that are signed in, and those of course sites
// that act for the tutor. A key is shown once when it is made, and can be withdrawn.

import * as classApi from "../api/classes.js";
import { confirmAction, button, form, keyPanel, messageArea, part } from "../classes/parts.js";
import { dayOf } from "../lib/texts/dates.js";
import { fill, h } from "../lib/browser/dom.js";
import { field } from "../controls/fields.js";

/** The label of a tutor's first key. */
const FIRST = "first";

/** The keys of the tutor's devices. */
export function ownKeys(app) {
  const { t } = app;
  return keysPart(app, "key", {
    load: classApi.keys, make: classApi.issueKey, withdraw: classApi.withdrawKey,
    nameOf: ({ kind, here, label }) => {
      if (kind === "browser") return t(here ? "me.browser-here" : "me.browser");
      return label === FIRST ? t("me.key-first") : label || t("me.key-unnamed");
    },
  });
}

/** The keys of course sites, which have the tutor's rights in the tutor's classes. */
export function siteKeys(app) {
  return keysPart(app, "site", {
    load: classApi.sites, make: classApi.makeSite, withdraw: classApi.withdrawSite, nameOf: ({ name }) => name, named: true,
  });
}

/**
 * @param {object} app
 * @param {"key"|"site"} kind chooses the texts
 * @param {{load: function, make: function(string), withdraw: function(string), nameOf: function(object): string,
 *   named?: boolean}} how `named`: a name is required
 */
function keysPart(app, kind, { load, make, withdraw, nameOf, named = false }) {
  const { t } = app;
  const list = h("ul", { class: "lines" });
  const place = h("div");
  const label = h("input", { type: "text", autocomplete: "off", maxlength: 120 });
  const messages = messageArea(app);
  const draw = async () => fill(list, (await load()).items.map(lineOf));

  function lineOf(one) {
    const name = nameOf(one);
    const what = one.kind === "browser" ? "browser" : kind;
    const yes = t(what === "browser" ? "me.browser-end" : "me.withdraw");
    return h("li", {}, h("span", { class: "line-who" }, h("span", { class: "line-name", dir: "auto", text: name }),
      h("span", { class: "small", text: daysOf(one) })),
    button(yes, () => confirmAction(app, {
      title: t(`me.${what}-withdraw`, { label: name }), says: t(`me.${what}-withdraw-says`), yes,
      act: async () => {
        await withdraw(one.id);
        await draw();
      },
    }), "quiet"));
  }

  function daysOf({ created_at: made, last_used_at: used = null }) {
    return [dayOf(t, made), used && t("me.key-used", { day: dayOf(t, used) })].filter(Boolean).join(" · ");
  }

  async function send() {
    const wanted = label.value.trim();
    if (named && !wanted) {
      label.focus();
      messages.wrong(t("me.site-missing"));
      return;
    }
    const { key } = await make(wanted);
    label.value = "";
    fill(place, keyPanel(app, key));
    await draw();
  }

  draw().catch(messages.wrong);
  return part(t(`me.${kind}s`), h("p", { text: t(`me.${kind}s-note`) }), list,
    form({
      text: t(`me.${kind}-make`), kind: "", messages, send, fields: [field(t(`me.${kind}-label`), label, { note: t(`me.${kind}-label-note`) }).element],
    }), place);
}
