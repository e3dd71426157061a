// Step 6: the studio. The checklist of the pack, ticked off on this device; measured lengths are
// judged at once, and a printer's error becomes the correction of the next pack.

import * as api from "../api/service.js";
import { fill, freshId, h } from "../lib/dom.js";
import { group } from "../controls/fields.js";
import { backLink, screenLayout } from "../controls/screen-layout.js";
import { studioSections } from "./studio-checklist.js";
import { lengthsPart, sheetPart } from "./studio-measure.js";
import { jobKey } from "../state/state.js";
import { problemText } from "../lib/words.js";

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const list = h("div", { class: "checklist" });
  const count = h("p", { class: "small", role: "status" });
  let pack = null;
  let over = false;

  screenLayout(root, { title: t("studio.title"), controls: [count, list], actions: [backLink(t("step.pack"), "pack")] });
  load();

  async function load() {
    const known = app.state.pack;
    if (!known) {
      showNone();
      return;
    }
    try {
      pack = await api.pack(known.id);
    } catch (error) {
      const text = error.code === "offline" ? t("studio.not-kept") : problemText(t, error);
      fill(list, h("p", { class: "notice", text }));
      return;
    }
    if (over) return;
    if (pack.state !== "ready") showNone();
    else await draw();
  }

  function showNone() {
    fill(list, h("p", { class: "lead", text: t("studio.none") }),
      h("div", { class: "button-row" }, h("a", { class: "button", href: "#pack" }, t("sheets.next"))));
  }

  const saved = () => app.state.checklist[pack.id] ?? { ticks: {}, measured: {} };
  const save = (part, values) => {
    const before = saved();
    app.update({ checklist: { [pack.id]: { ...before, [part]: { ...before[part], ...values } } } });
  };

  async function draw() {
    const sections = studioSections(t, pack, app.state.paper.unit, await formatTitle());
    if (over) return;
    fill(list,
      h("a", { class: "button", href: pack.files.map, target: "_blank" }, t("studio.map")),
      sections.map(section),
      h("button", { type: "button", class: "button quiet", on: { click: startOver } }, t("studio.start-over")));
    showCount();
  }

  async function formatTitle() {
    const name = pack.spec.sheet.format;
    try {
      return (await api.sheetFormats()).find((one) => one.name === name)?.title ?? name;
    } catch {
      // Without a network the format's standard name is shown.
      return name;
    }
  }

  function section({ name, steps, cautions = [] }) {
    const measured = { saved: saved().measured, save: (values) => save("measured", values) };
    return group(t(`studio.section.${name}`),
      steps.map((step) => tick(`${name}.${step.id}`, step)),
      name === "print" && sheetPart(app, pack, { ...measured, apply }),
      name === "check" && lengthsPart(app, pack, measured),
      cautions.length > 0 && h("div", { class: "notice" }, h("p", { class: "care", text: t("studio.care") }),
        cautions.map((one) => h("p", { text: t(`studio.caution.${one}`) }))));
  }

  function tick(key, { text, note }) {
    const id = freshId("tick");
    const box = h("input", {
      type: "checkbox", id, checked: Boolean(saved().ticks[key]), data: { key },
      on: { change: () => { save("ticks", { [key]: box.checked }); showCount(); } },
    });
    return h("div", { class: "tick" }, box,
      h("label", { for: id }, text, note && h("span", { class: "small", text: note })));
  }

  function showCount() {
    const boxes = [...list.querySelectorAll("input[type=checkbox]")];
    const done = boxes.filter((box) => box.checked).length;
    // For the card of this picture among the others, which has no plan.
    if (saved().steps !== boxes.length) app.update({ checklist: { [pack.id]: { ...saved(), steps: boxes.length } } });
    count.textContent = done === boxes.length
      ? t("studio.all-done") : t("studio.done", { count: boxes.length, done: String(done) });
  }

  function startOver() {
    app.update({ checklist: { [pack.id]: { ...saved(), ticks: {} } } });
    for (const box of list.querySelectorAll("input[type=checkbox]")) box.checked = false;
    showCount();
    app.announce(t("studio.started-over"));
  }

  /** Apply the printer's correction to the next pack. */
  function apply({ across, down }) {
    const { state } = app;
    const same = state.pack?.of === jobKey(state);
    app.update({ sheets: { acrossCorrection: across, downCorrection: down } });
    app.announce(same ? t("studio.bar.applied") : t("studio.bar.old"), true);
    app.go("pack");
  }

  return {
    unmount() {
      over = true;
    },
  };
}
