// What a frame shows in place of the page when it has no session: never opened in a course page,
// none handed over, or ended and not renewed. The page below is hidden and keeps what it has.

import { h } from "../lib/browser/dom.js";

const COVERED = ["bar", "screen"];

/**
 * Cover the page.
 * @param {function} t the texts
 * @param {"alone"|"refused"|"ended"} which
 * @param {function(): Promise<boolean>|null} again called by the button, where there is one; true
 *   uncovers the page
 */
export function cover(t, which, again) {
  if (document.getElementById("cover")) return;
  const still = h("p", { role: "alert" });
  const button = again && h("button", { type: "button", class: "button primary", on: { click: tryAgain } }, t("embed.again"));
  const heading = h("h1", { tabindex: "-1", text: t(`embed.${which}-title`) });
  const covering = h("main", { class: "plate", id: "cover" },
    h("div", { class: "plate-head" }, heading, h("p", { class: "lead", text: t(`embed.${which}`) })),
    h("div", { class: "plate-controls" }, still), h("div", { class: "plate-foot" }, button));
  setHidden(true);
  document.body.append(covering);
  heading.focus({ preventScroll: true });

  async function tryAgain() {
    if (button.disabled) return;
    button.disabled = true;
    still.textContent = "";
    if (await again()) {
      covering.remove();
      setHidden(false);
    } else still.textContent = t("embed.still");
    button.disabled = false;
  }
}

function setHidden(is) {
  for (const id of COVERED) document.getElementById(id).hidden = is;
  for (const dialog of document.querySelectorAll("dialog[open]")) dialog.close();
}
