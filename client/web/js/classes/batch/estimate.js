// The estimate of a batch, by student, before it is started; and the texts of errors and warnings.

import * as api from "../../api/service.js";
import * as classApi from "../../api/classes.js";
import { button, messageArea, part } from "../parts.js";
import { fill, h } from "../../lib/browser/dom.js";
import { writeSize } from "../../lib/texts/units.js";

/** Show the estimate; students without a pack come first. */
export function showEstimate(app, outcome, { id, asked, found, titles }) {
  const { t } = app;
  const messages = messageArea(app);
  const key = api.freshKey();
  const go = button(t("batch.start", { count: found.packs }), start, "primary");
  go.disabled = found.packs === 0;
  const left = found.items.filter((one) => one.error);
  fill(outcome, part(t("batch.takes"),
    h("p", {}, h("span", { class: "figure", text: found.sheets }), h("span", { text: t("batch.sheets", { count: found.sheets }) })),
    h("ul", { class: "plain-list" }, found.formats.map((one) => h("li", {
      text: t("batch.format-line", {
        format: titles.get(one.sheet_format) ?? one.sheet_format, pages: one.pages,
        sheets: t("batch.sheets-short", { count: one.sheets }), packs: t("batch.packs", { count: one.packs }),
      }),
    })), h("li", { text: t("batch.ink", { area: t.number(found.ink_m2, 2) }) })),
    left.length > 0 && h("p", { class: "notice bad", text: t("batch.left-out", { count: left.length }) }),
    h("div", { class: "button-row" }, go), messages.element,
    h("ul", { class: "lines" }, [...left, ...found.items.filter((one) => !one.error)].map((one) => estimateLine(app, one)))));
  outcome.querySelector("h2").tabIndex = -1;

  async function start() {
    go.disabled = true;
    try {
      const made = await classApi.makeBatch(id, asked, key, messages.wrong);
      app.go(`batch/${made.id}`);
    } catch (error) {
      messages.wrong(error);
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

/** The size of an item's support, in the chosen unit. */
export function supportText({ t, state }, { width_mm: width, height_mm: height }) {
  return writeSize(width, height, state.paper.unit, t.language);
}

/** The reason why a student has no pack. */
export function errorText(t, error) {
  if (error.code === "not-found") return t("batch.no-photo");
  return t.has(`problem.${error.code}`) ? t(`problem.${error.code}`, { detail: error.detail }) : error.detail;
}

/** The short text of a warning. */
export function warningText(t, warning) {
  return t.has(`batch.warning.${warning.code}`) ? t(`batch.warning.${warning.code}`) : warning.detail;
}
