// The printer screen, a part of the paper step: the test page, the readings, and the stored
// printers of the person and of the class.

import { mayDelete } from "../api/access.js";
import * as api from "../api/service.js";
import * as classApi from "../api/classes.js";
import { fill, h } from "../lib/dom.js";
import { choice, field, group, select, toggle } from "../controls/fields.js";
import { printHints, detectBrowser } from "../lib/print-hints.js";
import { backLink, anchoredRegion, screenLayout } from "../controls/screen-layout.js";
import * as printerApi from "../api/printers.js";
import { barsOf, marginPart, readingPart } from "./printer-reading.js";
import { printerPatch } from "../state/state.js";
import { problemText } from "../lib/words.js";

const LONGEST_NAME = 60;

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const messages = h("div", { class: "notices" });
  const printerList = h("div", { class: "printers" });
  const known = anchoredRegion({}, group(t("printer.kept"), printerList));
  const place = h("div", { class: "printer-form" });
  const page = h("div", { class: "printer-page" });
  const go = h("button", { type: "button", class: "button primary", on: { click: save } });
  let unit = "mm";
  let format = app.state.paper.sheetFormat;
  let printers = [];
  let formats = [];
  let classes = [];
  let form = null;
  let key = api.freshKey();

  const sheet = () => formats.find((one) => one.name === format);
  const chosen = () => printers.find((one) => one.id === app.state.sheets.printerId) ?? null;
  /** Only the owner may change a printer that is shared with a class. */
  const isMine = (printer) => printer !== null && (app.person.role === "local" || printer.owner_id === app.person.id);

  screenLayout(root, {
    title: t("printer.title"), lead: t("printer.lead"),
    controls: [known.element, group(t("printer.page"), page), place, messages],
    actions: [backLink(t("step.paper"), "paper"), go],
  });
  updateButton();
  load();

  /** Draw everything once all is loaded, so that nothing moves and no typed text is overwritten. */
  async function load() {
    try {
      formats = await api.sheetFormats();
      unit = format.startsWith("na_") ? "in" : "mm";
      printers = await printerApi.printers();
      if (app.person.role === "tutor") classes = (await classApi.classes()).items;
    } catch (error) {
      showProblem(error);
    }
    draw();
  }

  function draw() {
    known.draw(drawPrinters);
    drawPage();
    drawForm();
  }

  function drawPrinters() {
    const label = (one) => h("span", { class: "printer-label" }, h("span", { text: one.name }),
      h("span", { class: "small", text: summary(one) }));
    const options = [["", t("printer.none")], ...printers.map((one) => [one.id, label(one)])];
    fill(printerList,
      printers.length === 0 ? h("p", { class: "small", text: t("printer.nothing-kept") })
        : choice("printer", t("printer.choose"), options, app.state.sheets.printerId ?? "", take, { hideLegend: true }),
      isMine(chosen()) && mayDelete() && h("div", {}, h("button", { type: "button", class: "button quiet flush", on: { click: forget } },
        t("printer.forget", { name: chosen().name }))));
  }

  function summary(one) {
    const title = formats.find(({ name }) => name === one.format)?.title ?? "";
    const factors = t("printer.factors", { across: t.number(one.across_correction, 4), down: t.number(one.down_correction, 4) });
    return [title, factors, one.class_id && t("printer.of-class")].filter(Boolean).join(" · ");
  }

  function take(id) {
    const printer = printers.find((one) => one.id === id) ?? null;
    app.update(printerPatch(printer));
    if (printer) ({ format } = printer);
    draw();
    printerList.querySelector(":checked")?.focus();
    app.announce(printer ? t("printer.taken", { name: printer.name }) : t("printer.none-taken"));
  }

  function drawPage() {
    const link = h("a", { class: "button", href: printerApi.testPage(format), download: true }, t("printer.download"));
    const list = select([{ options: formats.map((one) => [one.name, one.title]) }], format, (next) => {
      format = next;
      link.href = printerApi.testPage(format);
      drawForm();
    });
    fill(page, field(t("paper.sheet"), list).element, h("div", { class: "button-row" }, link),
      h("details", {}, h("summary", { text: t("pack.hints") }),
        h("ol", { class: "hints" }, printHints(detectBrowser(navigator)).map((one) => h("li", { text: t(one) })))));
  }

  /** The earlier reading: of the stored printer, or from the studio step. */
  function knownMm(way) {
    const printer = chosen();
    const factor = app.state.sheets[`${way}Correction`];
    if (printer && factor === printer[`${way}_correction`]) return printer[way]?.measured_mm ?? null;
    return factor === 1 ? null : barsOf(sheet())[way] / factor;
  }

  function drawForm() {
    form?.reading.stop();
    if (!sheet()) return;
    const printer = chosen();
    const name = h("input", { type: "text", dir: "auto", maxlength: LONGEST_NAME, autocomplete: "off", value: isMine(printer) ? printer.name : "" });
    const reading = readingPart(t, { unit, sheet: sheet(), onChange: updateButton, across: knownMm("across"), down: knownMm("down") });
    const margins = marginPart(t, app.state.paper.margin);
    form = { name: field(t("printer.name"), name, { note: t("printer.name-note") }), reading, margins, withMargins: Boolean(printer?.margin_mm), classId: printer?.class_id ?? "" };
    margins.element.hidden = !form.withMargins;
    fill(place,
      group(t("printer.measured"),
        choice("printer-unit", t("paper.unit"), ["mm", "in"].map((one) => [one, t(`unit.${one}`)]), unit, (next) => {
          unit = next;
          drawForm();
          place.querySelector(":checked").focus();
        }, { hideLegend: true }),
        h("p", { class: "small", text: t("printer.how") }), reading.element),
      group(t("printer.margins"),
        toggle(t("printer.with-margins"), form.withMargins, (on) => {
          form.withMargins = on;
          margins.element.hidden = !on;
        }),
        h("p", { class: "note", text: t("printer.margins-note") }), margins.element),
      group(t("printer.keep"), form.name.element, classes.length > 0 && classField()));
    updateButton();
  }

  function classField() {
    const options = [["", t("printer.only-me")], ...classes.map((one) => [one.id, one.name])];
    return field(t("printer.for-class"), select([{ options }], form.classId, (id) => { form.classId = id; })).element;
  }

  function updateButton() {
    go.textContent = t(isMine(chosen()) ? "printer.save" : "printer.make");
    go.setAttribute("aria-disabled", String(!form || form.reading.read() === null));
  }

  async function save() {
    const read = form?.reading.read() ?? null;
    if (!form) return;
    const name = form.name.control.value.trim();
    form.name.note(name ? t("printer.name-note") : t("printer.name-missing"), !name);
    if (!name) form.name.control.focus();
    if (!name || read === null) return;
    const body = {
      name, ...read, margin_mm: form.withMargins ? form.margins.read() : null,
      ...(classes.length > 0 ? { class_id: form.classId || null } : {}),
    };
    const printer = chosen();
    fill(messages);
    try {
      const made = isMine(printer)
        ? await printerApi.changePrinter(printer.id, body) : await printerApi.makePrinter({ ...body, format }, key);
      key = api.freshKey();
      printers = [...printers.filter((one) => one.id !== made.id), made];
      app.update(printerPatch(made));
      draw();
      const text = t("printer.is-kept", { name: made.name });
      fill(messages, h("p", { class: "notice good", text }));
      messages.scrollIntoView({ block: "nearest" });
      app.announce(text);
    } catch (error) {
      showProblem(error);
    }
  }

  async function forget() {
    const printer = chosen();
    try {
      await printerApi.deletePrinter(printer.id);
      printers = printers.filter((one) => one.id !== printer.id);
      app.update(printerPatch(null));
      draw();
      printerList.querySelector("input, p")?.focus();
      app.announce(t("printer.forgotten", { name: printer.name }));
    } catch (error) {
      showProblem(error);
    }
  }

  function showProblem(error) {
    fill(messages, h("p", { class: "notice bad", text: problemText(t, error) }));
    app.announce(problemText(t, error), true);
  }

  return {
    unmount() {
      form?.reading.stop();
    },
  };
}
