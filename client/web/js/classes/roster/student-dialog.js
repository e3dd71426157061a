// What a tutor changes of one student: the name, a lost key, a free place, shutting out, and
// removing them with all their data.

import * as classApi from "../../api/classes.js";
import { confirmAction, button, form, keyPanel, messageArea, openDialog } from "../parts.js";
import { h } from "../../lib/browser/dom.js";
import { hourInWords } from "../../lib/texts/dates.js";
import { field } from "../../controls/fields.js";

/**
 * @param {object} app
 * @param {string} classId
 * @param {object} one a line of the roster
 * @param {function(): Promise} changed called when the line has changed
 */
export function openStudent(app, classId, one, changed) {
  const { t } = app;
  const name = h("input", { type: "text", dir: "auto", autocomplete: "off", maxlength: 120, value: one.name });
  const messages = messageArea(app);
  const within = (act) => async () => {
    messages.clear();
    try {
      await act();
      await changed();
    } catch (error) {
      messages.wrong(error);
    }
  };
  const dialog = openDialog(one.name,
    form({
      text: t("roster.rename"), kind: "", messages, fields: [field(t("roster.name"), name).element],
      send: async () => {
        await classApi.changeStudent(classId, one.id, { name: name.value });
        await changed();
        dialog.close();
      },
    }),
    h("div", { class: "stack" },
      button(t("roster.link"), within(async () => {
        const link = await classApi.newKeyLink(classId, one.id);
        dialog.close();
        showLink(app, one, link);
      })),
      h("p", { class: "small", text: t("roster.link-note") }),
      button(t("roster.key"), within(async () => {
        const { key } = await classApi.newKey(classId, one.id);
        dialog.close();
        showKey(app, one, key);
      })),
      h("p", { class: "small", text: t("roster.key-note") }),
      one.joined && button(t("roster.free"), within(async () => {
        await classApi.freePlace(classId, one.id);
        messages.good(t("roster.freed"));
      })),
      one.joined && h("p", { class: "small", text: t("roster.free-note") }),
      button(t(one.withdrawn ? "roster.let-in" : "roster.withdraw"), within(async () => {
        await classApi.changeStudent(classId, one.id, { withdrawn: !one.withdrawn });
        dialog.close();
      })),
      button(t("roster.remove"), () => {
        dialog.close();
        confirmAction(app, {
          title: t("roster.remove-title", { name: one.name }), says: t("roster.remove-says"), yes: t("roster.remove"),
          act: async () => {
            await classApi.deleteStudent(classId, one.id);
            await changed();
          },
        });
      }, "danger")),
    button(t("settings.close"), () => dialog.close()));
}

function showKey(app, one, key) {
  const { t } = app;
  const dialog = openDialog(t("roster.key-of", { name: one.name }), h("p", { text: t("roster.key-how") }), keyPanel(app, key),
    button(t("settings.close"), () => dialog.close()));
}

/** A link as a QR code, to be scanned from the tutor's screen. */
function showLink(app, one, { url, qr_svg: code, ends_at: end }) {
  const { t } = app;
  const picture = h("img", { src: `data:image/svg+xml,${encodeURIComponent(code)}`, alt: t("roster.link-code", { name: one.name }), width: 280, height: 280 });
  const dialog = openDialog(t("roster.key-of", { name: one.name }), h("p", { text: t("roster.link-how") }),
    h("div", { class: "board-qr" }, picture),
    keyPanel(app, url, { label: t("key-link.label"), copyText: t("key-link.copy"), says: t("roster.link-once", { time: hourInWords(t.language, end) }) }),
    button(t("settings.close"), () => dialog.close()));
}
