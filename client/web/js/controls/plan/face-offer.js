// The offer to protect the faces that the service found. It suggests, a person decides; once taken
// or declined it does not come back for this photo on this device.

import { fill, h } from "../../lib/browser/dom.js";

/** So many photos are remembered as answered. */
const MOST_ANSWERED = 50;

/**
 * @param {object} app
 * @param {{rest: function}} handlers `rest()` moves the focus once the offer has gone
 * @returns {{element: HTMLElement, show: function(object|null)}} `show(plan)` after each plan
 */
export function faceOffer(app, { rest }) {
  const { t } = app;
  const element = h("div", { class: "face-offer" });
  let shown = "";

  function offerOf(plan) {
    const { photo, facesAnswered } = app.state;
    if (facesAnswered.includes(photo?.referenceId)) return null;
    return plan?.suggestions.find(({ code }) => code === "protect-face") ?? null;
  }

  function answer(patch, text) {
    const answered = [...app.state.facesAnswered, app.state.photo.referenceId].slice(-MOST_ANSWERED);
    app.update({ ...patch, facesAnswered: answered });
    show(null);
    rest();
    app.announce(text);
  }

  function take({ change: { protect } }) {
    const text = t("sheets.faces.taken", { count: protect.length });
    answer({ sheets: { protect: [...app.state.sheets.protect, ...protect] } }, text);
  }

  function show(plan) {
    const offer = offerOf(plan);
    const says = offer && saying(offer, plan);
    const key = JSON.stringify([says, offer?.change]);
    // An equal offer keeps its buttons, and with them the focus.
    if (key === shown) return;
    shown = key;
    fill(element, offer && question(offer, says));
  }

  function saying({ faces, change: { protect }, sheet_count: sheets }, plan) {
    const whole = faces.every(({ face }) => protect.some((area) => area.left === face.left && area.top === face.top));
    const count = faces.length;
    const more = sheets !== null && sheets > plan.sheet_count
      && t("sheets.faces.more", { sheets: t("common.sheets", { count: sheets }), now: plan.sheet_count });
    return [t(whole ? "sheets.faces.whole" : "sheets.faces.eyes", { count }), more].filter(Boolean).join(" ");
  }

  function question(offer, says) {
    return h("div", { class: "face-question", role: "group", "aria-label": says },
      h("p", { text: says }),
      h("button", { type: "button", class: "button", on: { click: () => take(offer) } }, t("sheets.faces.take")),
      h("button", {
        type: "button", class: "button quiet", "aria-label": t("sheets.faces.decline"),
        on: { click: () => answer({}, t("sheets.faces.declined")) },
      }, "✕"));
  }

  return { element, show };
}
