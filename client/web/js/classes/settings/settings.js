// The settings of a class: students' defaults and what they may change, their limits, the last
// day of the class, and how long data is stored.

import * as api from "../../api/service.js";
import * as classApi from "../../api/classes.js";
import { confirmAction, button, form, messageArea, part, classLayout } from "../parts.js";
import { picturePart } from "./class-picture.js";
import { copyPart } from "./copy.js";
import { tutorsPart } from "./tutors.js";
import { styleFields } from "../style.js";
import { dayInWords, readDay, writeDay } from "../../lib/texts/dates.js";
import { h } from "../../lib/browser/dom.js";
import { choice, field, group, select, toggle } from "../../controls/fields.js";
import { lengthField } from "../../controls/length-field.js";
import { EDGES, MARGINS, MOST_MARGIN_MM } from "../../lib/paper/margins.js";
import { mayChangeField } from "../../state/class-defaults.js";
import { ownName } from "../../lib/texts/words.js";
import { readSize, workUnit, writeSize } from "../../lib/texts/units.js";

/** Fields that students may always change, since they belong to photo or printer. */
const ALWAYS = ["crop", "rotate_deg", "seams.protect", "print.across_correction", "print.down_correction", "print.printer"];
/** Groups of fields that a tutor may leave to students. */
const LEFT = {
  support: ["support"], sheet: ["sheet"], tone: ["tone"], grid: ["grid"],
  seams: ["seams.joint", "seams.lap_mm", "seams.arrangement", "seams.placement", "seams.register_marks"], print: ["print.mirror", "print.resolution_ppi", "print.black_only"],
};
const LIMITS = ["photos", "packs", "pages"];

/** @returns {{unmount: function}} */
export function mount(root, app, { id }) {
  const { t } = app;
  const loadMessages = messageArea(app);
  let over = false;
  classLayout(root, app, { title: t("room.way-settings"), id, view: "settings", main: [loadMessages.element] });
  load();

  async function load() {
    try {
      const [one, formats] = await Promise.all([classApi.oneClass(id), api.sheetFormats()]);
      if (!over) draw(one, formats);
    } catch (error) {
      loadMessages.wrong(error);
    }
  }

  function draw(one, formats) {
    const parts = [basics(one), starts(one, formats), left(one), limits(one)];
    const messages = messageArea(app);
    classLayout(root, app, {
      title: t("class.settings-of", { name: one.name }), id, view: "settings",
      main: [form({ text: t("class.keep"), messages, fields: parts.map((part_) => part_.element), send: () => send(one, parts, messages) })],
      side: [picturePart(app, one), codePart(one), tutorsPart(app, one), copyPart(app, one), endPart(one)],
    });
    document.title = `${one.name} · Ricalco`;
  }

  async function send(one, parts, messages) {
    const changes = { settings: {} };
    for (const part_ of parts) {
      const values = part_.read();
      if (values === null) {
        messages.wrong(t("class.look-again"));
        return;
      }
      Object.assign(changes.settings, values.settings);
      Object.assign(changes, { ...values, settings: changes.settings });
    }
    await classApi.changeClass(id, changes);
    messages.good(t("class.kept"));
  }

  function basics(one) {
    const name = h("input", { type: "text", dir: "auto", maxlength: 120, autocomplete: "off", value: one.name });
    const day = h("input", {
      type: "text", inputmode: "numeric", autocomplete: "off", maxlength: 20, value: one.closes_at ? writeDay(t.language, one.closes_at) : "",
      on: { change: () => closes() },
    });
    const dayField = field(t("class.closes"), day);
    const names = toggle(t("class.show-names"), one.settings.show_names, () => {});
    const open = toggle(t("class.open-roster"), one.settings.open_roster, () => {});
    const printed = toggle(t("class.print-names"), one.settings.print_names, () => {});
    const nameField = field(t("class.name"), name);
    closes();

    /** The last day that is typed, said in words; undefined where it is none. */
    function closes() {
      const typed = day.value.trim();
      const read = typed ? readDay(t.language, typed) : null;
      const wrong = typed !== "" && read === null;
      dayField.note(wrong ? t("class.closes-unread", { example: writeDay(t.language, Date.now()) })
        : read ? dayInWords(t.language, read) : t("class.closes-note"), wrong);
      return wrong ? undefined : read?.toISOString() ?? null;
    }

    return {
      element: group(t("class.basics"), nameField.element, dayField.element,
        withNote(names, t("class.show-names-note")), withNote(open, t("class.open-roster-note")),
        withNote(printed, t("class.print-names-note"))),
      read() {
        const fine = name.value.trim() !== "";
        nameField.note(fine ? "" : t("class.name-missing"), !fine);
        const end = closes();
        return fine && end !== undefined ? {
          name: name.value.trim(), closes_at: end,
          settings: { show_names: isOn(names), open_roster: isOn(open), print_names: isOn(printed) },
        } : null;
      },
    };
  }

  function starts(one, formats) {
    const { support = {}, sheet = {} } = one.settings.defaults;
    const { unit } = app.state.paper;
    const size = h("input", {
      type: "text", autocomplete: "off", maxlength: 40,
      value: support.width_mm ? writeSize(support.width_mm, support.height_mm, unit, t.language) : "",
    });
    const sizeField = field(t("class.support"), size, { note: t("class.support-note", { example: example(unit) }) });
    const format = select([{ options: [["", t("class.as-they-like")], ...formats.map((each) => [each.name, each.title])] }], sheet.format ?? "", () => {});
    const margins = marginChoice(app, sheet.margin_mm);
    const black = toggle(t("sheets.black-only"), one.settings.defaults.print?.black_only ?? false, () => {});
    const printed = styleFields(app, { defaults: one.settings.defaults, open: true });
    const spoken = [["", t("class.language-any")], ...app.languages.map((each) => [each, ownName(each)])];
    const language = select([{ options: spoken }], one.settings.defaults.language ?? "", () => {});
    return {
      element: group(t("class.starts"), h("p", { class: "small", text: t("class.starts-note") }), sizeField.element,
        field(t("paper.sheet"), format).element, margins.element, printed.elements,
        withNote(black, t("sheets.black-only-note")), field(t("class.language"), language).element),
      read() {
        const read = readSize(size.value, unit);
        const fine = size.value.trim() === "" || read !== null;
        sizeField.note(fine ? t("class.support-note", { example: example(unit) }) : t("class.size-unread", { example: example(unit) }), !fine);
        const style = printed.read();
        if (!fine || !margins.fine() || !style) return null;
        const { tone, grid, ...others } = one.settings.defaults;
        const defaults = { ...others, tone: style.tone, ...(style.grid && { grid: style.grid }) };
        defaults.support = { ...support, ...(read ? { width_mm: read.widthMm, height_mm: read.heightMm } : {}) };
        if (!read) delete defaults.support;
        defaults.print = { ...others.print, black_only: isOn(black) };
        defaults.sheet = { ...sheet };
        if (format.value) defaults.sheet.format = format.value;
        else delete defaults.sheet.format;
        const wanted = margins.read();
        if (wanted) defaults.sheet.margin_mm = wanted;
        else delete defaults.sheet.margin_mm;
        if (language.value) defaults.language = language.value;
        else delete defaults.language;
        return { settings: { defaults } };
      },
    };
  }

  function left(one) {
    const allowed = one.settings.may_change;
    const was = (name) => LEFT[name].every((path) => mayChangeField(allowed, path));
    const boxes = Object.keys(LEFT).map((name) => [name, toggle(t(`class.left-${name}`), was(name), () => {})]);

    /** Finer settings than these checkboxes can express stay, unless their checkbox changes. */
    function pathsOf([name, box]) {
      if (allowed !== null && isOn(box) === was(name)) return allowed.filter((one) => LEFT[name].some((path) => touches(one, path)));
      return isOn(box) ? LEFT[name] : [];
    }

    return {
      element: group(t("class.left"), h("p", { class: "small", text: t("class.left-note") }), boxes.map(([, box]) => box)),
      read() {
        const all = boxes.every(([, box]) => isOn(box));
        return { settings: { may_change: all ? null : [...new Set([...ALWAYS, ...boxes.flatMap(pathsOf)])] } };
      },
    };
  }

  function limits(one) {
    const inputs = LIMITS.map((name) => [name, numberInput(one.settings[name] ?? "", 0)]);
    const days = numberInput(one.settings.keep_days, 1);
    const daysField = field(t("class.keep-days"), days, { unit: t("class.days"), note: t("class.keep-days-note") });
    return {
      element: group(t("class.limits"), h("p", { class: "small", text: t("class.limits-note") }),
        h("div", { class: "fields" }, inputs.map(([name, input]) => field(t(`class.limit-${name}`), input).element)), daysField.element),
      read() {
        const keepDays = Number(days.value);
        const fine = Number.isInteger(keepDays) && keepDays >= 1 && keepDays <= 400;
        daysField.note(t("class.keep-days-note"), !fine);
        const counts = inputs.map(([name, input]) => [name, input.value.trim() === "" ? null : Number(input.value)]);
        if (!fine || counts.some(([, count]) => count !== null && !(Number.isInteger(count) && count >= 0))) return null;
        return { settings: { ...Object.fromEntries(counts), keep_days: keepDays } };
      },
    };
  }

  function codePart(one) {
    const messages = messageArea(app);
    const code = h("p", { class: "code-shown", text: one.join_code });
    return part(t("class.code"), code, h("p", { class: "small", text: t("class.new-code-note") }), button(t("class.new-code"), async () => {
      try {
        code.textContent = (await classApi.changeClass(id, { new_code: true })).join_code;
        messages.good(t("class.new-code-made"));
      } catch (error) {
        messages.wrong(error);
      }
    }), messages.element);
  }

  function endPart(one) {
    return part(t("class.end"), h("p", { class: "small", text: t("class.delete-says") }), button(t("class.delete"), () => confirmAction(app, {
      title: t("class.delete-title", { name: one.name }), says: t("class.delete-says"), yes: t("class.delete-yes"),
      act: async () => {
        await classApi.deleteClass(id);
        app.go("classes");
      },
    }), "danger"));
  }

  return {
    unmount() {
      over = true;
    },
  };
}

export function example(unit) {
  return { cm: "60 × 40", mm: "600 × 400", in: "24 × 18" }[unit] ?? "60 × 40";
}

function numberInput(value, least) {
  return h("input", { type: "text", inputmode: "numeric", autocomplete: "off", maxlength: 6, value: String(value), data: { least } });
}

function withNote(box, text) {
  const input = box.querySelector("input");
  const note = h("p", { class: "note", id: `${input.id}-note`, text });
  input.setAttribute("aria-describedby", note.id);
  return h("div", {}, box, note);
}

/** Whether one path equals the other, or is below it. */
function touches(one, other) {
  return one === other || one.startsWith(`${other}.`) || other.startsWith(`${one}.`);
}

function isOn(box) {
  return box.querySelector("input").checked;
}

/**
 * The margins of the class's printer: left to students, one of the two presets, or figures.
 */
function marginChoice(app, initial) {
  const { t } = app;
  const own = { ...MARGINS.tight, ...initial };
  const place = h("div");
  let name = presetOf(initial);
  draw();

  function draw() {
    const edge = (one) => lengthField(t, {
      label: t(`paper.${one}`), mm: own[one], unit: workUnit(app.state.paper.unit), most: () => MOST_MARGIN_MM, change: (mm) => { own[one] = mm; },
    });
    place.replaceChildren(...(name === "own" ? [h("div", { class: "fields" }, EDGES.map(edge))] : []));
  }

  const element = h("div", { class: "stack" },
    choice("class-margins", t("paper.margins"), ["", "tight", "safe", "own"].map((one) => [one, t(`class.margin-${one || "any"}`)]), name, (chosen) => {
      if (chosen in MARGINS) Object.assign(own, MARGINS[chosen]);
      name = chosen;
      draw();
    }), place);
  return {
    element,
    fine: () => place.querySelector("[aria-invalid=true]") === null,
    read: () => (name ? { ...own } : null),
  };
}

function presetOf(margin) {
  if (!margin) return "";
  return Object.keys(MARGINS).find((name) => EDGES.every((edge) => MARGINS[name][edge] === margin[edge])) ?? "own";
}
