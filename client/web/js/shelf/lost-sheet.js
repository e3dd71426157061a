// A lost sheet again, by the numbers printed on those that are left: the pack's, and the sheet's.

import { packsOfNumber } from "../api/own-packs.js";
import * as api from "../api/service.js";
import { field } from "../controls/fields.js";
import { fill, freshId, h, showDialog } from "../lib/browser/dom.js";
import { problemText } from "../lib/texts/words.js";

/** Row and place of a sheet's number, however it is typed: `2·3`, `2-3`, `2 3`. @returns {string|null} as `2-3` */
function readLabel(text) {
  const found = /^\D*(\d+)\D+(\d+)\D*$/.exec(text);
  return found && `${Number(found[1])}-${Number(found[2])}`;
}

/** Ask which sheet is lost. @param {object} app @param {object|null} pack the pack, where it is known */
export function askForLostSheet(app, pack = null) {
  const { t } = app;
  const id = freshId("lost");
  const input = (more) => h("input", { type: "text", autocomplete: "off", autocapitalize: "characters", spellcheck: "false", maxlength: 40, ...more });
  const number = field(t("shelf.pack-number"), input({ placeholder: "7K3F-Q2ZD" }), { note: t("shelf.pack-number-note") });
  const sheet = field(t("shelf.sheet-number"), input({ inputmode: "text", placeholder: "2·3" }), { note: t("shelf.sheet-number-note") });
  const place = h("div", { class: "shelf-found", role: "status" });
  const dialog = showDialog({ class: "sheetlet", "aria-labelledby": id }, [
    h("h2", { id, text: t("shelf.lost") }),
    h("form", { class: "form", novalidate: true, on: { submit: find } },
      pack ? h("p", { class: "small", dir: "auto", text: [pack.title || t("common.untitled"), pack.number].filter(Boolean).join(" · ") }) : number.element,
      sheet.element,
      h("button", { type: "submit", class: "button primary" }, t("shelf.find-sheet"))),
    place,
    h("button", { type: "button", class: "button quiet", on: { click: () => dialog.close() } }, t("settings.close")),
  ]);

  async function find(event) {
    event.preventDefault();
    fill(place);
    number.note(t("shelf.pack-number-note"));
    sheet.note(t("shelf.sheet-number-note"));
    try {
      await show();
    } catch (error) {
      fill(place, h("p", { class: "notice bad", text: problemText(t, error) }));
    }
  }

  async function show() {
    const label = readLabel(sheet.control.value);
    if (!label) return wrong(sheet, t("shelf.sheet-number-wrong"));
    const found = pack ? [pack] : await packsOfNumber(number.control.value);
    const ready = found.find(({ state }) => state === "ready");
    if (!ready) return wrong(number, t("shelf.pack-none"));
    const document = await api.pack(ready.id);
    const one = document.files.sheets.find((each) => readLabel(each.label) === label);
    if (!one) return wrong(sheet, t("shelf.sheet-none", { count: document.files.sheets.length, labels: labelsOf(document) }));
    const open = h("a", { class: "button primary", href: one.pdf, target: "_blank" }, t("pack.reprint-go", { label: one.label }));
    fill(place, open);
    return open.focus({ preventScroll: true });
  }

  function wrong(at, text) {
    at.note(text, true);
    at.control.focus();
    app.announce(text, true);
  }
}

/** The first and the last sheet of a pack. */
function labelsOf({ files }) {
  const labels = files.sheets.map(({ label }) => label);
  return labels.length > 1 ? `${labels[0]} – ${labels.at(-1)}` : labels[0];
}
