// Packs for a whole class: one photo for many supports, or many photos for one. What it takes
// in sheets and ink is said first, student by student; then it is started.

import * as api from "./api.js";
import { batchTable } from "./batch-table.js";
import * as classApi from "./class-api.js";
import { button, dayOf, form, newsPlace, part, room, titlesOf } from "./class-parts.js";
import { example } from "./class-settings.js";
import { styleFields } from "./class-style.js";
import { fill, h } from "./dom.js";
import { choice, field, select, toggle } from "./fields.js";
import { ACCEPT, picker, sender } from "./sending.js";
import { readSize, writeSize } from "./units.js";

/** @returns {{unmount: function}} */
export function mount(root, app, { id }) {
  const { t } = app;
  const said = newsPlace(app);
  let over = false;
  let order = null;
  room(root, app, { title: t("class.way-packs"), id, view: "packs", main: [said.element] });
  load();

  async function load() {
    try {
      const [board, formats, { items }] = await Promise.all([classApi.board(id), api.sheetFormats(), classApi.batches(id)]);
      if (!over) draw(board, formats, items);
    } catch (error) {
      said.wrong(error);
    }
  }

  function draw(board, formats, batches) {
    const outcome = h("div", { class: "outcome-part" });
    order = orderForm(app, id, board, formats, outcome);
    const before = batches.length > 0 && part(t("batch.earlier"), earlier(t, batches));
    const toBefore = before && h("p", { class: "phone-only" }, button(t("batch.earlier"), () => before.querySelector("a").focus(), "quiet flush"));
    room(root, app, {
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

function orderForm(app, id, board, formats, outcome) {
  const { t } = app;
  const { unit } = app.state.paper;
  const { defaults } = board.class.settings;
  const { support = {}, sheet = {} } = defaults;
  const news = newsPlace(app);
  const photo = photoChoice(app, stale);
  const who = batchTable(app, stale);
  const title = h("input", { type: "text", autocomplete: "off", maxlength: 120, dir: "auto", on: { input: stale } });
  const note = h("input", { type: "text", autocomplete: "off", maxlength: 400, dir: "auto", on: { input: stale } });
  const size = h("input", {
    type: "text", autocomplete: "off", maxlength: 40, on: { input: stale },
    value: support.width_mm ? writeSize(support.width_mm, support.height_mm, unit, t.language) : writeSize(app.state.paper.widthMm, app.state.paper.heightMm, unit, t.language),
  });
  const sizeField = field(t("batch.support"), size, { note: t("batch.support-note", { example: example(unit) }) });
  const format = select([{ options: formats.map((one) => [one.name, one.title]) }], sheet.format ?? app.state.paper.sheetFormat, stale);
  const printed = styleFields(app, { defaults, open: false, changed: stale });
  const lies = toggle(t("batch.as-photo-lies"), true, stale);
  const file = h("input", { type: "file", class: "unseen", accept: ".csv,.txt,.tsv,text/csv", on: { change: takeFile } });
  let table = null;
  const tableName = h("p", { class: "small", "aria-live": "polite" });
  who.load(board.students, formats);

  function stale() {
    fill(outcome);
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

  /** The batch as the service is asked for it, or null where something cannot be read. */
  function wish() {
    const read = readSize(size.value, unit);
    sizeField.note(t(read ? "batch.support-note" : "class.size-unread", { example: example(unit) }), read === null);
    const lines = who.lines();
    const reference = photo.reference();
    const style = printed.read();
    if (!read || !lines || !style || reference === undefined) return null;
    const shared = { support: { width_mm: read.widthMm, height_mm: read.heightMm }, sheet: { format: format.value }, ...style };
    const asked = { title: title.value.trim(), note: note.value.trim(), reference_id: reference?.id ?? null, spec: shared };
    if (table !== null) return { ...asked, table };
    const photos = new Map(board.students.map((one) => [one.id, one.photo]));
    return {
      ...asked,
      items: lines.map((line) => itemOf(line, read, lies.querySelector("input").checked ? reference ?? photos.get(line.student.id) : null)),
    };
  }

  async function work() {
    const asked = wish();
    if (!asked) {
      news.wrong(t("class.look-again"));
      return;
    }
    if (asked.items?.length === 0) {
      news.wrong(t("batch.nobody"));
      return;
    }
    showEstimate(app, outcome, { id, asked, found: await classApi.estimate(id, asked), titles: titlesOf(formats) });
    const told = outcome.querySelector("h2");
    told.focus({ preventScroll: true });
    told.scrollIntoView({ block: "nearest" });
  }

  const element = form({
    text: t("batch.work-out"), news, send: work,
    fields: [
      photo.element,
      part(t("batch.paper"), sizeField.element, field(t("paper.sheet"), format).element, lies),
      part(t("sheets.print"), h("div", { class: "fields" }, printed.elements)),
      part(t("batch.words"), field(t("batch.title"), title, { note: t("batch.title-note") }).element,
        field(t("batch.note"), note, { note: t("batch.note-note") }).element),
      part(t("batch.who"), h("p", { class: "small", text: t("batch.who-note") }), who.element,
        h("label", { class: "button picker" }, file, h("span", { text: t("batch.table") })), h("p", { class: "small", text: t("batch.table-note") }), tableName),
    ],
  });
  element.classList.add("form-long");
  return { element, stop: photo.stop };
}

/** UTF-8, and where it is none the older encoding that spreadsheets still write. */
async function readTable(file) {
  const bytes = await file.arrayBuffer();
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder("windows-1252").decode(bytes);
  }
}

/** One student's line; the support lies as their photo does, unless a size of their own is given. */
function itemOf({ student, size, format }, shared, photo) {
  const spec = {};
  if (size) spec.support = { width_mm: size.widthMm, height_mm: size.heightMm };
  else if (photo && Math.sign(photo.width_px - photo.height_px) === -Math.sign(shared.widthMm - shared.heightMm)) {
    spec.support = { width_mm: shared.heightMm, height_mm: shared.widthMm };
  }
  if (format) spec.sheet = { format };
  return { student: student.id, spec };
}

/** Everyone's own photo, or one for all. `reference()` is null, a photo, or undefined: none yet. */
function photoChoice(app, changed) {
  const { t } = app;
  const place = h("div", { class: "batch-photo" });
  let kind = "own";
  let reference = app.state.photo && {
    id: app.state.photo.referenceId, preview: app.state.photo.previewUrl, width_px: app.state.photo.widthPx, height_px: app.state.photo.heightPx,
  };
  const chooser = h("div", { class: "photo-choose" });
  const news = h("div", { class: "photo-news" });
  const sending = sender(app, { news, begun: () => fill(chooser), kept: keep, left: draw });

  function keep(_, taken) {
    reference = { id: taken.id, preview: taken.links.preview, width_px: taken.width_px, height_px: taken.height_px };
    fill(news);
    draw();
    changed();
  }

  function draw() {
    fill(chooser, picker(t(reference ? "photo.other" : "photo.file"), { accept: ACCEPT }, "", sending.take));
    fill(place, kind === "one" && [reference && h("img", { src: reference.preview, alt: t("batch.photo-alt") }), chooser, news]);
  }

  const element = part(t("batch.photo"), choice("batch-photo", t("batch.photo"), ["own", "one"].map((one) => [one, t(`batch.photo-${one}`)]), kind, (chosen) => {
    kind = chosen;
    draw();
    changed();
  }, { hideLegend: true }), place);
  return { element, reference: () => (kind === "own" ? null : reference ?? undefined), stop: sending.stop };
}

/** Who has to be looked after stands first. */
function showEstimate(app, outcome, { id, asked, found, titles }) {
  const { t } = app;
  const news = newsPlace(app);
  const key = api.freshKey();
  const go = button(t("batch.start", { count: found.packs }), start, "primary");
  go.disabled = found.packs === 0;
  const left = found.items.filter((one) => one.error);
  fill(outcome, part(t("batch.takes"),
    h("p", { class: "sum-count" }, h("span", { class: "figure", text: found.sheets }), h("span", { text: t("batch.sheets", { count: found.sheets }) })),
    h("ul", { class: "plain-list" }, found.formats.map((one) => h("li", {
      text: t("batch.format-line", {
        format: titles.get(one.sheet_format) ?? one.sheet_format, pages: one.pages,
        sheets: t("batch.sheets-short", { count: one.sheets }), packs: t("batch.packs", { count: one.packs }),
      }),
    })), h("li", { text: t("batch.ink", { area: t.number(found.ink_m2, 2) }) })),
    left.length > 0 && h("p", { class: "notice bad", text: t("batch.left-out", { count: left.length }) }),
    h("div", { class: "button-row" }, go), news.element,
    h("ul", { class: "lines" }, [...left, ...found.items.filter((one) => !one.error)].map((one) => estimateLine(app, one)))));
  outcome.querySelector("h2").tabIndex = -1;

  async function start() {
    go.disabled = true;
    try {
      const made = await classApi.makeBatch(id, asked, key);
      app.go(`batch/${made.id}`);
    } catch (error) {
      news.wrong(error);
      go.disabled = false;
    }
  }
}

function estimateLine(app, one) {
  const { t } = app;
  const notes = one.error ? [errorText(t, one.error)] : one.warnings.map((each) => warningText(t, each));
  return h("li", {}, h("span", { class: "line-who" },
    h("span", { class: "line-name", dir: "auto", text: one.student?.name ?? t("batch.own-copy") }),
    one.support && h("span", { class: "small", text: supportText(app, one.support) }),
    notes.map((text) => h("span", { class: "small warn", text }))),
  h("span", { class: "line-figure", text: one.error ? "–" : t("batch.sheets-short", { count: one.sheets }) }));
}

/** What a line's support measures, in the unit that the person chose. */
export function supportText({ t, state }, { width_mm: width, height_mm: height }) {
  return writeSize(width, height, state.paper.unit, t.language);
}

/** Why a student has no pack. */
export function errorText(t, error) {
  if (error.code === "not-found") return t("batch.no-photo");
  return t.has(`problem.${error.code}`) ? t(`problem.${error.code}`, { detail: error.detail }) : error.detail;
}

/** A warning in short. */
export function warningText(t, warning) {
  return t.has(`batch.warning.${warning.code}`) ? t(`batch.warning.${warning.code}`) : warning.detail;
}
