// The bar that says what was deleted, with the button that takes it back. It lies over the screen,
// whichever is shown, and goes when the time is over.

import { fill, h } from "../../lib/browser/dom.js";

/**
 * @param {object} app
 * @param {function(string)} undo called with the path of what comes back
 * @returns {function(Array<object>)} shows these deletions
 */
export function undoBar(app, undo) {
  const list = h("ul", { class: "undo-bar" });
  let shown = [];

  function line(entry) {
    const { t } = app;
    return h("li", {},
      h("p", {}, h("span", { text: says(entry) }), entry.kind === "pack" && h("span", { class: "undo-note", text: t("undo.photo-too") })),
      h("button", { type: "button", class: "button", data: { path: entry.path }, on: { click: () => takeBack(entry) } },
        t("undo.undo"), h("span", { class: "unseen", text: ` ${says(entry)}` })));
  }

  function says({ kind, title }) {
    if (kind === "photo") return app.t("undo.photo-deleted");
    return app.t("undo.deleted", { title: title || app.t("common.untitled") });
  }

  function takeBack(entry) {
    undo(entry.path);
    app.announce(app.t("undo.undone"));
    document.querySelector("h1")?.focus({ preventScroll: true });
  }

  return (entries) => {
    const fresh = entries.find(({ path }) => !shown.some((one) => one.path === path));
    const changed = entries.length !== shown.length || fresh;
    if (!changed) return;
    const held = list.contains(document.activeElement);
    shown = entries;
    fill(list, entries.map(line));
    if (entries.length > 0 && !list.isConnected) document.body.append(list);
    if (entries.length === 0) list.remove();
    if (fresh) {
      app.announce(`${says(fresh)} ${app.t("undo.hint")}`);
      // What had the focus is gone with what was deleted.
      [...list.querySelectorAll("button")].find(({ dataset }) => dataset.path === fresh.path)?.focus({ preventScroll: true });
    } else if (held) document.querySelector("h1")?.focus({ preventScroll: true });
  };
}
