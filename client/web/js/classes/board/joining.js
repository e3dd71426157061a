// Opening the room for a lesson: one tap lets students join for an hour, and joining closes by
// itself, so that nobody has to think of it.

import { button } from "../parts.js";
import { h } from "../../lib/browser/dom.js";
import { hourInWords } from "../../lib/texts/dates.js";

const HOUR_MS = 3_600_000;

/**
 * What opens and closes joining, and how long it is open.
 * @param {object} app
 * @param {{joining_open: boolean, joining_until: string|null}} group
 * @param {function(object)} change sends changes of the class
 */
export function joiningControls(app, group, change) {
  const { t } = app;
  const until = (from) => ({ joining_until: new Date(from + HOUR_MS).toISOString() });
  if (!group.joining_open) {
    return h("div", { class: "button-row" }, button(t("class.open-hour"), () => change(until(Date.now())), "primary"),
      button(t("class.open-long"), () => change({ joining_open: true }), "quiet"));
  }
  const end = group.joining_until;
  return h("div", { class: "stack" },
    h("p", { class: "open-now", text: end ? t("class.open-until", { time: hourInWords(t.language, end) }) : t("class.open-without") }),
    h("div", { class: "button-row" }, button(t("class.close-now"), () => change({ joining_open: false })),
      end && button(t("class.hour-more"), () => change(until(Date.parse(end))))));
}
