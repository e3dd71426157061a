// The printer screen, a part of the paper step: the test page, what is measured on it, and the
// stored printers of the person and of the class. The test page is the picture; tools in the order
// of use say what is read off it.

import * as api from "../api/service.js";
import * as classApi from "../api/classes.js";
import { bench, lineIcon } from "../controls/screen/bench.js";
import { fill, h } from "../lib/browser/dom.js";
import { choice, field, select, toggle } from "../controls/fields.js";
import { printHints, detectBrowser } from "../lib/paper/print-hints.js";
import { backLink } from "../controls/screen/layout.js";
import { testPageDrawing } from "../draw/test-page.js";
import * as printerApi from "../api/printers.js";
import { barsOf, marginPart, readingPart } from "./printer-reading.js";
import { printerList } from "./printer-list.js";
import { printerPatch } from "../state/state.js";
import { problemText } from "../lib/texts/words.js";

const LONGEST_NAME = 60;
const ICONS = {
  page: ["M6 3h9l4 4v14H6Z", "M15 3v4h4", "M12 10v7", "M9 14l3 3 3-3"],
  bars: ["M3 16h18", "M3 13v6", "M21 13v6", "M8 14.5v3", "M12.5 14.5v3", "M17 14.5v3", "M3 7h18"],
  edges: ["M4 4h16v16H4Z", "M8 4v2", "M12 4v4", "M16 4v6"],
  keep: ["M4 4h13l3 3v13H4Z", "M8 4v5h7V4", "M8 20v-6h8v6"],
  kept: ["M7 9V3h10v6", "M7 17H4V9h16v8h-3", "M7 14h10v7H7Z"],
};

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const drawing = testPageDrawing(t);
  const news = h("p", { class: "printer-news", role: "status", text: t("printer.lead") });
  const panels = Object.fromEntries(Object.keys(ICONS).map((id) => [id, h("div", { class: "panel-part" })]));
  const go = h("button", { type: "button", class: "button primary", on: { click: save } });
  const stored = printerList(app, panels.kept, { titleOf: (name) => formatOf(name)?.title ?? "", chosen: takenUp, problem: showProblem });
  let unit = "mm";
  let format = app.state.paper.sheetFormat;
  let formats = [];
  let classes = [];
  let form = null;
  let key = api.freshKey();

  const formatOf = (name) => formats.find((one) => one.name === name);
  const sheet = () => formatOf(format);
  const tools = bench(root, {
    title: t("printer.title"), pictureArea: drawing.element, sum: news, toolsName: t("view.tools"),
    tools: Object.entries(ICONS).map(([id, paths]) => ({ id, name: t(`printer.tool-${id}`), icon: lineIcon(...paths), panel: panels[id], opened: redraw })),
    first: "page",
    actions: [backLink(t("step.paper"), "paper"), go],
  });
  updateButton();
  load();

  /** Draw everything once all is loaded, so that nothing moves and no typed text is overwritten. */
  async function load() {
    try {
      formats = await api.sheetFormats();
      unit = format.startsWith("na_") ? "in" : "mm";
      await stored.load();
      if (app.person.role === "tutor") classes = (await classApi.classes()).items;
    } catch (error) {
      showProblem(error);
    }
    drawPage();
    drawForm();
  }

  function redraw() {
    if (!sheet()) return;
    drawing.show({ sheet: sheet(), bars: barsOf(sheet()), unit, lit: tools.current(), measured: form?.reading.measured() ?? {} });
  }

  function takenUp(printer) {
    if (printer) ({ format } = printer);
    drawPage();
    drawForm();
  }

  function drawPage() {
    const link = h("a", { class: "button", href: printerApi.testPage(format), download: true }, t("printer.download"));
    const list = select([{ options: formats.map((one) => [one.name, one.title]) }], format, (next) => {
      format = next;
      link.href = printerApi.testPage(format);
      drawForm();
    });
    fill(panels.page, field(t("paper.sheet"), list).element, h("div", { class: "button-row" }, link),
      h("details", {}, h("summary", { text: t("pack.hints") }),
        h("ol", { class: "hints" }, printHints(detectBrowser(navigator)).map((one) => h("li", { text: t(one) })))));
  }

  /** The earlier reading: of the stored printer, or from the studio step. */
  function knownMm(way) {
    const printer = stored.chosen();
    const factor = app.state.sheets[`${way}Correction`];
    if (printer && factor === printer[`${way}_correction`]) return printer[way]?.measured_mm ?? null;
    return factor === 1 ? null : barsOf(sheet())[way] / factor;
  }

  function drawForm() {
    form?.reading.stop();
    if (!sheet()) return;
    const printer = stored.chosen();
    const name = h("input", { type: "text", dir: "auto", maxlength: LONGEST_NAME, autocomplete: "off", value: stored.isMine(printer) ? printer.name : "" });
    form = {
      name: field(t("printer.name"), name, { note: t("printer.name-note") }),
      reading: readingPart(t, { unit, sheet: sheet(), onChange: readingChanged, across: knownMm("across"), down: knownMm("down") }),
      margins: marginPart(t, app.state.paper.margin), withMargins: Boolean(printer?.margin_mm), classId: printer?.class_id ?? "",
    };
    drawBars();
    drawEdges();
    fill(panels.keep, form.name.element, classes.length > 0 && classField());
    readingChanged();
  }

  function drawBars() {
    fill(panels.bars,
      choice("printer-unit", t("paper.unit"), ["mm", "in"].map((one) => [one, t(`unit.${one}`)]), unit, (next) => {
        unit = next;
        drawForm();
        panels.bars.querySelector(":checked").focus();
      }, { hideLegend: true }),
      form.reading.element, h("p", { class: "small", text: t("printer.how") }));
  }

  function drawEdges() {
    const { element } = form.margins;
    element.hidden = !form.withMargins;
    fill(panels.edges,
      toggle(t("printer.with-margins"), form.withMargins, (on) => {
        form.withMargins = on;
        element.hidden = !on;
      }),
      element, h("p", { class: "small", text: t("printer.margins-note") }));
  }

  function classField() {
    const options = [["", t("printer.only-me")], ...classes.map((one) => [one.id, one.name])];
    return field(t("printer.for-class"), select([{ options }], form.classId, (id) => { form.classId = id; })).element;
  }

  function readingChanged() {
    updateButton();
    redraw();
  }

  function updateButton() {
    go.textContent = t(stored.isMine(stored.chosen()) ? "printer.save" : "printer.make");
    go.setAttribute("aria-disabled", String(!form || form.reading.read() === null));
  }

  /** Save; where something is missing or wrong, its panel is opened instead. */
  async function save() {
    const read = form?.reading.read() ?? null;
    if (!form) return;
    if (read === null) {
      tools.open("bars");
      return;
    }
    const name = form.name.control.value.trim();
    form.name.note(name ? t("printer.name-note") : t("printer.name-missing"), !name);
    if (!name) {
      tools.open("keep");
      form.name.control.focus();
      return;
    }
    const body = {
      name, ...read, margin_mm: form.withMargins ? form.margins.read() : null,
      ...(classes.length > 0 ? { class_id: form.classId || null } : {}),
    };
    const printer = stored.chosen();
    try {
      const made = stored.isMine(printer)
        ? await printerApi.changePrinter(printer.id, body) : await printerApi.makePrinter({ ...body, format }, key);
      key = api.freshKey();
      app.update(printerPatch(made));
      stored.add(made);
      takenUp(made);
      tell(t("printer.is-kept", { name: made.name }));
    } catch (error) {
      showProblem(error);
    }
  }

  function showProblem(error) {
    tell(problemText(t, error), true);
  }

  function tell(text, wrong = false) {
    news.classList.toggle("wrong", wrong);
    news.textContent = text;
    app.announce(text, wrong);
  }

  return {
    unmount() {
      form?.reading.stop();
      drawing.unmount();
    },
  };
}
