// A batch while it is made, and then its files: an archive, a print run for each sheet format, and
// the table of students and packs.

import * as api from "../../api/service.js";
import { errorText, supportText, warningText } from "./estimate.js";
import * as classApi from "../../api/classes.js";
import { confirmAction, button, keyedList, markBox, messageArea, part, poll, classLayout, titlesOf } from "../parts.js";
import { dayOf } from "../../lib/texts/dates.js";
import { fill, h } from "../../lib/browser/dom.js";
import { toggle } from "../../controls/fields.js";

const REFRESH_MS = 1500;
/** After a batch has ended, only marks change. */
const REFRESH_ENDED_MS = 5000;
const ENDED = new Set(["ready", "failed", "cancelled"]);

/** @returns {{unmount: function}} */
export function mount(root, app, { id }) {
  const { t } = app;
  const messages = messageArea(app);
  const sum = h("p");
  const bar = h("progress", { max: 1, "aria-label": t("batch.progress") });
  const counts = h("p", { class: "small", role: "status" });
  const list = h("ul", { class: "lines" });
  const show = keyedList(list, (one) => lineOf(app, one, mark));
  const side = h("div", { class: "batch-side" });
  const end = h("div");
  const { heading, within } = classLayout(root, app, {
    title: t("batch.one"), main: [list, end], sideFirst: true,
    side: [h("div", { class: "batch-progress" }, sum, bar, counts, messages.element), side],
  });
  let classId = null;
  let titles = new Map();
  let drawnKey = "";
  api.sheetFormats().then((formats) => { titles = titlesOf(formats); }, () => {});
  const poller = poll(refresh, REFRESH_MS);

  async function refresh() {
    try {
      const batch = await classApi.batch(id);
      draw(batch);
      if (classId === null) await showClass(batch);
    } catch (error) {
      messages.wrong(error);
      if (error.status === 404) poller.stop();
    }
  }

  /** Show the class's navigation, when the class of the batch is known. */
  async function showClass(batch) {
    const { name } = await classApi.oneClass(batch.class_id);
    classId = batch.class_id;
    within(classId, "packs", t("batch.for", { name }));
  }

  async function mark(one, printed) {
    try {
      await classApi.markPack(one.pack_id, { printed });
    } catch (error) {
      messages.wrong(error);
    }
    poller.now();
  }

  function draw(batch) {
    heading.textContent = batch.title || dayOf(t, batch.created_at);
    document.title = `${heading.textContent} · Ricalco`;
    const ready = batch.counts.ready ?? 0;
    fill(sum, h("span", { class: "figure", text: ready }), h("span", { text: t("batch.ready-of", { all: batch.items.length - (batch.counts.missing ?? 0) }) }));
    bar.value = batch.progress.total ? batch.progress.done / batch.progress.total : 0;
    const words = [t(`batch.state-${batch.state}`), ...["failed", "cancelled", "missing"].filter((name) => batch.counts[name])
      .map((name) => t(`batch.count-${name}`, { count: batch.counts[name] }))].join(" · ");
    if (counts.textContent !== words) counts.textContent = words;
    show(batch.items.map((one) => ({ id: one.position, ...one })));
    drawSide(batch);
    if (ENDED.has(batch.state)) poller.every(REFRESH_ENDED_MS);
  }

  function drawSide(batch) {
    const left = unprinted(batch);
    const key = JSON.stringify([batch.state, batch.print_runs, titles.size, left.length > 0]);
    if (key === drawnKey) return;
    drawnKey = key;
    const ended = ENDED.has(batch.state);
    fill(side, ended ? fetchPart(batch, left.length > 0) : waitPart());
    fill(end, ended && endPart(batch));
  }

  function waitPart() {
    return part(t("batch.making"), h("p", { text: t("batch.making-note") }), button(t("batch.cancel"), () => confirmAction(app, {
      title: t("batch.cancel"), says: t("batch.cancel-says"), yes: t("batch.cancel-yes"),
      act: async () => {
        await classApi.endBatch(id);
        poller.now();
      },
    })));
  }

  /** Mark a whole stack as printed; a missing pack is unticked by hand. */
  async function markAll(pressed) {
    pressed.disabled = true;
    try {
      for (const one of unprinted(await classApi.batch(id))) await classApi.markPack(one.pack_id, { printed: true });
      app.announce(t("batch.all-printed"));
    } catch (error) {
      messages.wrong(error);
    }
    pressed.disabled = false;
    poller.now();
  }

  function fetchPart(batch, someLeft) {
    const runs = h("div", { class: "stack" });
    const covers = toggle(t("batch.covers"), true, drawRuns);
    drawRuns();

    function drawRuns() {
      const query = covers.querySelector("input").checked ? "?covers=true" : "";
      fill(runs, batch.print_runs.filter((run) => run.ready > 0).map((run) => h("a", { class: "button primary", href: run.path + query, download: true },
        t("batch.run", { format: titles.get(run.sheet_format) ?? run.sheet_format, count: run.ready }))));
    }

    const made = batch.counts.ready > 0;
    return [
      made && part(t("batch.print"), h("p", { class: "small", text: t("batch.print-note") }), covers, runs,
        someLeft && button(t("batch.mark-all"), (event) => markAll(event.currentTarget))),
      made && part(t("batch.fetch"), h("div", { class: "stack" },
        h("a", { class: "button", href: batch.links.archive, download: true }, t("batch.archive")),
        h("a", { class: "button", href: batch.links.table, download: true }, t("batch.csv")))),
    ];
  }

  function endPart(batch) {
    return part(t("batch.end"), h("p", { class: "small", text: t("batch.delete-says") }),
      h("div", { class: "button-row" }, button(t("batch.delete"), () => confirmAction(app, {
        title: t("batch.delete"), says: t("batch.delete-says"), yes: t("batch.delete"),
        act: async () => {
          await classApi.endBatch(id);
          app.go(`class/${batch.class_id}/packs`);
        },
      }), "danger")));
  }

  return { unmount: poller.stop };
}

/** The finished packs that are not marked as printed. */
function unprinted({ items }) {
  return items.filter((one) => one.state === "ready" && !one.printed);
}

function lineOf(app, one, mark) {
  const { t } = app;
  const notes = one.error ? [errorText(t, one.error)] : one.warnings.map((each) => warningText(t, each));
  const state = one.state === "making" ? t("class.pack-making", one.progress) : t(`batch.item-${one.state}`);
  const name = one.student?.name ?? t("batch.own-copy");
  return h("li", { class: "batch-line" }, h("span", { class: "line-who" },
    h("span", { class: "line-name", dir: "auto", text: name }),
    h("span", { class: "small", text: [state, one.support && supportText(app, one.support), one.number].filter(Boolean).join(" · ") }),
    notes.map((text) => h("span", { class: "small warn", text }))),
  h("span", { class: "line-figure", text: one.sheets ? t("batch.sheets-short", { count: one.sheets }) : "–" }),
  one.state === "ready" && h("span", { class: "board-marks" },
    markBox(t("class.mark-printed"), name, one.printed, (on) => mark(one, on)),
    h("a", { class: "button quiet", href: `${one.links.pack}/pack.pdf`, download: true, "aria-label": t("class.fetch-of", { name }) }, t("class.fetch"))));
}
