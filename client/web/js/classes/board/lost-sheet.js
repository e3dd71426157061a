// One lost sheet again: from a student's line on the board, or by the number that is printed on
// it. The sheets lie on the picture, so that the one that is missing is tapped where it belongs.

import * as classApi from "../../api/classes.js";
import * as api from "../../api/service.js";
import { button, form, messageArea, openDialog } from "../parts.js";
import { fill, h } from "../../lib/browser/dom.js";
import { field } from "../../controls/fields.js";

/** A sheet's target is no smaller than a thumb. */
const LEAST_PX = 46;

/** The field for what stands on a sheet, and below it whose it is. */
export function lostSheetPart(app, classId) {
  const { t } = app;
  const number = h("input", { type: "text", autocomplete: "off", autocapitalize: "characters", spellcheck: "false", maxlength: 40 });
  const messages = messageArea(app);
  const place = h("div", { class: "stack", "aria-live": "polite" });
  const asking = form({
    text: t("sheet-again.find"), kind: "", messages, send, fields: [field(t("sheet-again.number"), number, { note: t("sheet-again.number-note") }).element],
  });
  return h("details", { class: "part lost-sheet", on: { toggle: (event) => event.target.open && number.focus() } },
    h("summary", { text: t("sheet-again.title") }), asking, place);

  async function send() {
    fill(place);
    if (!number.value.trim()) {
      number.focus();
      messages.wrong(t("sheet-again.missing"));
      return;
    }
    const { items } = await classApi.packsNumbered(classId, number.value.trim());
    if (items.length === 0) {
      messages.wrong(t("sheet-again.nobody"));
      return;
    }
    fill(place, items.map(({ student, pack }) => {
      const name = student?.name ?? t("batch.own-copy");
      return h("div", { class: "stack" }, h("p", { class: "board-name", dir: "auto", text: name }),
        pack.files ? button(t("sheet-again.choose"), () => openSheets(app, pack, name)) : h("p", { class: "small", text: t(`batch.item-${pack.state}`) }));
    }));
  }
}

/** Fetch a pack of the board, and show its sheets. */
export async function openSheetsOf(app, packId, name, messages) {
  try {
    openSheets(app, await api.pack(packId), name);
  } catch (error) {
    messages.wrong(error);
  }
}

function openSheets(app, pack, name) {
  const { t } = app;
  const dialog = openDialog(t("sheet-again.of", { name }), h("p", { text: t("sheet-again.tap") }),
    h("div", { class: "sheet-pick-stand" }, sheetPicker(t, pack)), button(t("settings.close"), () => dialog.close()));
  dialog.element.classList.add("sheetlet-wide");
}

/** The picture with a link on each sheet. */
function sheetPicker(t, { plan, files, number }) {
  const { width_mm: width, height_mm: height } = plan.picture;
  const pdfs = new Map(files.sheets.map((one) => [one.label, one.pdf]));
  const stand = h("div", { class: "sheet-pick" }, h("img", { src: files.picture, alt: "" }));
  stand.style.aspectRatio = `${width} / ${height}`;
  stand.style.minWidth = `${Math.ceil(Math.max(plan.columns * LEAST_PX, (plan.rows * LEAST_PX * width) / height))}px`;
  for (const { label, picture_rect_mm: at } of plan.pieces) {
    const link = h("a", { href: pdfs.get(label), download: true, "aria-label": t("sheet-again.fetch", { label, number }) }, h("span", { text: label }));
    const percent = { left: at.left / width, top: at.top / height, width: at.width / width, height: at.height / height };
    for (const [side, share] of Object.entries(percent)) link.style[side] = `${share * 100}%`;
    stand.append(link);
  }
  return stand;
}
