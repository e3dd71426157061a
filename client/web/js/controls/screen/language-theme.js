// The settings dialog: language, theme, and links to the person's pages.

import { h, showDialog } from "../../lib/browser/dom.js";
import { choice } from "../fields.js";
import { personLinks } from "./person-links.js";
import { ownName } from "../../lib/texts/words.js";

/** The button in the bar that opens the settings. @param {object} app */
export function settingsButton(app) {
  return h("button", {
    type: "button", class: "gear", "aria-label": app.t("settings.open"), "aria-haspopup": "dialog",
    on: { click: () => openSettings(app) },
  }, h("span", { "aria-hidden": "true" }, "Aa"));
}

function openSettings(app) {
  const { t, state } = app;
  const close = () => dialog.close();
  const dialog = showDialog({ class: "sheetlet", "aria-labelledby": "settings-title" }, [
    h("h2", { id: "settings-title", text: t("settings.title") }),
    choice("language", t("settings.language"), app.languages.map((one) => [one, ownName(one)]), state.language, (language) => {
      close();
      app.update({ language });
    }),
    choice("theme", t("settings.theme"), ["auto", "light", "dark"].map((theme) => [theme, t(`settings.${theme}`)]),
      state.theme, (theme) => app.update({ theme })),
    h("div", { class: "sheetlet-links" }, personLinks(app, close)),
    h("button", { type: "button", class: "button", on: { click: close } }, t("settings.close")),
  ], { tapBeside: true });
}
