// Packs for a whole class: one photo for many supports, or many photos for one. An estimate of
// sheets and ink, by student, comes first; then the batch is started.

import * as api from "../api/service.js";
import { showEstimate } from "./batch/estimate.js";
import { photoChoice } from "./batch/photo.js";
import { printerFor } from "./batch/printer.js";
import { batchTable } from "./batch/table.js";
import * as classApi from "../api/classes.js";
import { button, form, messageArea, part, classLayout, titlesOf } from "./parts.js";
import { example } from "./settings/settings.js";
import { styleFields } from "./style.js";
import { dayOf } from "../lib/texts/dates.js";
import { fill, h } from "../lib/browser/dom.js";
import { field, select, toggle } from "../controls/fields.js";
import { framingFor } from "../state/framing.js";
import { printers } from "../api/printers.js";
import { readSize, writeSize } from "../lib/texts/units.js";

/** @returns {{unmount: function}} */
export function mount(root, app, { id }) {
  const { t } = app;
  const loadMessages = messageArea(app);
  let over = false;
  let order = null;
  classLayout(root, app, { title: t("room.way-packs"), id, view: "packs", main: [loadMessages.element] });
  load();

  async function load() {
    try {
      const [board, formats, { items }, known] = await Promise.all([
        classApi.board(id), api.sheetFormats(), classApi.batches(id), printers().catch(() => []),
      ]);
      if (!over) draw(board, formats, items, known);
    } catch (error) {
      loadMessages.wrong(error);
    }
  }

  function draw(board, formats, batches, known) {
    const outcome = h("div", { class: "outcome-part" });
    order = orderForm(app, { id, board, formats, printers: known }, outcome);
    const before = batches.length > 0 && part(t("batch.earlier"), earlier(t, batches));
    const toBefore = before && h("p", { class: "phone-only" }, button(t("batch.earlier"), () => before.querySelector("a").focus(), "quiet flush"));
    classLayout(root, app, {
      title: t("batch.for", { name: board.class.name }), id, view: "packs", main: [toBefore, order.element], side: [outcome, before],
    });
    document.title = `${board.class.name} · Ricalco`;
  }

  return {
    unmount() {
      over = true;
      order?.stop();
    },
  };
}

function earlier(t, batches) {
  return h("ul", { class: "class-list" }, batches.map((one) => h("li", {}, h("a", { href: `#batch/${one.id}` },
    h("span", { class: "class-name", dir: "auto", text: one.title || dayOf(t, one.created_at) }),
    h("span", { class: "small", text: `${t(`batch.state-${one.state}`)} · ${t("batch.packs", { count: one.items.length - (one.counts.missing ?? 0) })}` }),
    h("span", { class: "arrow", "aria-hidden": "true", text: "→" })))));
}

/** @param {{id: string, board: object, formats: Array, printers: Array}} there */
function orderForm(app, { id, board, formats, printers: known }, outcome) {
  const { t } = app;
  const { unit } = app.state.paper;
  const { defaults } = board.class.settings;
  const { support = {}, sheet = {} } = defaults;
  const messages = messageArea(app);
  const photo = photoChoice(app, { someAsked: board.students.some((one) => one.asked), picture: board.class.picture }, stale);
  const who = batchTable(app, stale);
  const title = h("input", { type: "text", autocomplete: "off", maxlength: 120, dir: "auto", on: { input: stale } });
  const note = h("input", { type: "text", autocomplete: "off", maxlength: 400, dir: "auto", on: { input: stale } });
  const size = h("input", {
    type: "text", autocomplete: "off", maxlength: 40, on: { input: stale },
    value: support.width_mm ? writeSize(support.width_mm, support.height_mm, unit, t.language) : writeSize(app.state.paper.widthMm, app.state.paper.heightMm, unit, t.language),
  });
  const sizeField = field(t("batch.support"), size, { note: t("batch.support-note", { example: example(unit) }) });
  const printer = printerFor(app, { known, id, changed: takeSheets });
  const format = select([{ options: formats.map((one) => [one.name, one.title]) }],
    printer.format ?? sheet.format ?? app.state.paper.sheetFormat, stale);
  const printed = styleFields(app, { defaults, open: false, changed: stale });
  const lies = toggle(t("batch.as-photo-lies"), true, stale);
  const file = h("input", { type: "file", class: "unseen", accept: ".csv,.txt,.tsv,text/csv", on: { change: takeFile } });
  let table = null;
  const tableName = h("p", { class: "small", "aria-live": "polite" });
  who.load(board.students, formats);

  function stale() {
    fill(outcome);
  }

  function takeSheets(one) {
    if (one) format.value = one.format;
    stale();
  }

  async function takeFile() {
    const [chosen] = file.files;
    file.value = "";
    if (!chosen) return;
    table = await readTable(chosen);
    drawTable(chosen.name);
    stale();
  }

  function drawTable(name) {
    fill(tableName, table !== null && [t("batch.table-taken", { name }), " ", button(t("batch.table-leave"), () => {
      table = null;
      drawTable("");
      stale();
    }, "quiet flush")]);
    who.element.hidden = table !== null;
  }

  /** The request for the batch; null if a field is unreadable. */
  function batchRequest() {
    const read = readSize(size.value, unit);
    sizeField.note(t(read ? "batch.support-note" : "class.size-unread", { example: example(unit) }), read === null);
    const lines = who.lines();
    const reference = photo.reference();
    const style = printed.read();
    if (!read || !lines || !style || reference === undefined) return null;
    const { print, sheet: margins } = printer.read();
    const framing = photo.framing();
    const framed = (over) => framing && framingFor(framing, sizeOf(reference), { border_mm: support.border_mm, ...over });
    const whole = { width_mm: read.widthMm, height_mm: read.heightMm };
    const shared = {
      support: whole, sheet: { format: format.value, ...margins }, print, ...style, ...framed(whole),
    };
    const asked = {
      title: title.value.trim(), note: note.value.trim(), reference_id: reference?.id ?? null, spec: shared, as_asked: photo.asAsked(),
    };
    if (table !== null) return { ...asked, table };
    // A student who has ordered a pack has chosen its orientation.
    const liesAs = ({ id: studentId, asked: pack, photo: own }) => (
      lies.querySelector("input").checked && !(pack && asked.as_asked) ? reference ?? (studentId ? own : null) : null);
    return {
      ...asked,
      items: lines.map((line) => itemOf(line, read, liesAs(line.student), framed)),
    };
  }

  async function work() {
    const asked = batchRequest();
    if (!asked) {
      messages.wrong(t("class.look-again"));
      return;
    }
    if (asked.items?.length === 0) {
      messages.wrong(t("batch.nobody"));
      return;
    }
    showEstimate(app, outcome, { id, asked, found: await classApi.estimate(id, asked), titles: titlesOf(formats) });
    const heading = outcome.querySelector("h2");
    heading.focus({ preventScroll: true });
    heading.scrollIntoView({ block: "nearest" });
  }

  const element = form({
    text: t("batch.work-out"), messages, send: work,
    fields: [
      photo.element,
      part(t("batch.paper"), sizeField.element, lies, printer.element, field(t("paper.sheet"), format).element),
      part(t("tool.style"), h("div", { class: "fields" }, printed.elements)),
      part(t("batch.words"), field(t("batch.title"), title, { note: t("batch.title-note") }).element,
        field(t("batch.note"), note, { note: t("batch.note-note") }).element),
      part(t("batch.who"), h("p", { class: "small", text: t("batch.who-note") }), who.element,
        h("label", { class: "button picker" }, file, h("span", { text: t("batch.table") })), h("p", { class: "small", text: t("batch.table-note") }), tableName),
    ],
  });
  element.classList.add("form-long");
  return { element, stop: photo.stop };
}

/** Decode UTF-8, or else the older encoding that spreadsheets still write. */
async function readTable(file) {
  const bytes = await file.arrayBuffer();
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder("windows-1252").decode(bytes);
  }
}

const sizeOf = ({ width_px: widthPx, height_px: heightPx }) => ({ widthPx, heightPx });

/** One student's item; the support has the orientation of their photo, unless a size is given, and
 * a tutor's framing is fitted to it. */
function itemOf({ student, size, format }, shared, photo, framed) {
  const spec = {};
  if (size) spec.support = { width_mm: size.widthMm, height_mm: size.heightMm };
  else if (photo && Math.sign(photo.width_px - photo.height_px) === -Math.sign(shared.widthMm - shared.heightMm)) {
    spec.support = { width_mm: shared.heightMm, height_mm: shared.widthMm };
  }
  if (spec.support) Object.assign(spec, framed(spec.support));
  if (format) spec.sheet = { format };
  return { student: student.id, spec };
}
