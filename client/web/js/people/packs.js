// The person's packs at the service, to continue on this device: after a change of device, or with
// a pack made by the tutor.

import * as classApi from "../api/classes.js";
import { dayOf, messageArea, part } from "../classes/parts.js";
import { fill, h } from "../lib/dom.js";

/** @param {object} app @returns {Element} */
export function ownPacks(app) {
  const { t } = app;
  const messages = messageArea(app);
  const list = h("ul", { class: "class-list" });
  const empty = h("p", { class: "small", hidden: true, text: t("me.packs-none") });
  load();

  async function load() {
    try {
      const { items } = await classApi.myPacks();
      empty.hidden = items.length > 0;
      fill(list, items.map(line));
    } catch (error) {
      messages.wrong(error);
    }
  }

  function line(pack) {
    const state = t(`class.pack-${pack.state}`, { count: pack.sheets, ...pack.progress });
    return h("li", {}, h("a", { href: "#pack", on: { click: () => take(pack) } },
      h("span", { class: "class-name", dir: "auto", text: pack.title || t("pack.untitled") }),
      h("span", { class: "small", text: [state, dayOf(t, pack.created_at), pack.number].filter(Boolean).join(" · ") }),
      h("span", { class: "arrow", "aria-hidden": "true", text: "→" })));
  }

  function take({ id, state, links }) {
    app.update({ pack: { id, state, referenceId: links.reference.split("/").pop() } });
  }

  return part(t("me.packs"), empty, list, messages.element);
}
