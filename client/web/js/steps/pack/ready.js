// A finished pack as cards in the order of use: print one sheet, measure it, print the rest; then
// the page for a copy shop, and the same picture in another style. What is done is kept with the
// checklist of the studio, which shows the same steps.

import { frame, mayDelete, send } from "../../api/access.js";
import { h } from "../../lib/browser/dom.js";
import { printHints, detectBrowser } from "../../lib/paper/print-hints.js";
import { forgetPacks } from "../../api/offline-cache.js";
import { measurePart } from "../../studio/measure.js";
import { writeSize } from "../../lib/texts/units.js";

/** Names of the studio's steps that the first and the third card are. */
const PRINTED = { first: "print.test", rest: "print.rest" };

/**
 * @param {object} app
 * @param {object} pack the pack's document
 * @param {{online: boolean, kept: boolean, current: boolean, correct: function({across, down})}} how
 *   `kept`: the device has the pack's file; `current`: nothing was changed since, so there is nothing to make first
 * @returns {Array<Node>}
 */
export function readyParts(app, pack, how) {
  const { t } = app;
  const one = pack.plan.sheet_count === 1;
  const saved = () => app.state.checklist[pack.id] ?? { ticks: {}, measured: {} };
  const save = (part, values) => app.update({
    checklist: { [pack.id]: { ...saved(), [part]: { ...saved()[part], ...values } } },
  });
  const about = { app, t, pack, saved, save, ...how };
  return [
    h("div", { class: "pack-sum" },
      h("h2", { class: "pack-ready", text: t("pack.ready-title") }),
      h("p", { class: "small", text: [pack.title, t("common.number", { number: pack.number })].filter(Boolean).join(" · ") })),
    h("ol", { class: "pack-cards" }, ...(one
      ? [wholeCard(about), measureCard(about)]
      : [firstCard(about), measureCard(about), restCard(about)])),
    shopCard(about),
  ];
}

/** What is left to do with a pack, below everything else. */
export function lastParts(app, { another, remove }) {
  const { t } = app;
  const button = (text, click) => h("button", { type: "button", class: "button quiet", on: { click } }, text);
  const away = mayDelete() && button(t("pack.delete"), remove);
  if (frame) return h("div", { class: "button-row" }, button(t("pack.another"), another), away);
  const forget = async () => {
    await forgetPacks();
    app.announce(t("pack.forgotten"));
  };
  return h("details", { class: "kept" }, h("summary", { text: t("pack.kept") }),
    h("p", { class: "small", text: t("pack.kept-note") }),
    h("div", { class: "button-row" }, button(t("pack.another"), another), button(t("pack.forget"), forget), away));
}

/** A numbered card; `done(true)` ticks it. */
function card(t, name, isDone, ...body) {
  const mark = h("span", { class: "card-mark", "aria-hidden": "true" });
  const word = h("span", { class: "unseen" });
  const element = h("li", { class: "pack-card", data: { card: name } },
    h("h2", {}, mark, t(`pack.card.${name}`), word), body);
  const done = (is) => {
    element.classList.toggle("done", is);
    word.textContent = is ? `, ${t("pack.card.done")}` : "";
  };
  done(isDone);
  return { element, done };
}

/** The class of the button with which printing begins. */
const beginning = (current) => (current ? "button primary" : "button");

function firstCard({ t, pack, saved, save, online, current }) {
  const { label } = pack.plan.sheet_to_test;
  const file = pack.files.sheets.find((sheet) => sheet.label === label);
  const opened = () => {
    save("ticks", { [PRINTED.first]: true });
    shown.done(true);
  };
  const shown = card(t, "first", Boolean(saved().ticks[PRINTED.first]),
    fileLink(t("pack.card.first-go", { label }), file.pdf, online, { class: beginning(current), target: "_blank", on: { click: opened } }),
    hints(t));
  return shown.element;
}

/** How to print at actual size: in short, and for this browser on demand. */
function hints(t) {
  return [h("p", { class: "small", text: t("pack.card.hundred") }),
    h("details", { class: "hints-more" }, h("summary", { text: t("pack.hints") }),
      h("ol", { class: "hints" }, printHints(detectBrowser(navigator)).map((key) => h("li", { text: t(key) }))))];
}

function measureCard({ app, t, pack, saved, save, correct }) {
  const shown = card(t, "measure", false);
  shown.element.append(measurePart(app, pack, { scope: "sheet", names: ["across", "down"] }, {
    saved: saved().measured, save: (values) => save("measured", values), apply: correct, told: (fine) => shown.done(fine),
  }));
  return shown.element;
}

function restCard(about) {
  const { t, pack } = about;
  const { label, page } = pack.plan.sheet_to_test;
  return packCard(about, "rest", h("p", { class: "small", text: `${pagesOf(t, pack)} ${t("pack.card.rest-skip", { label, page: String(page) })}` }));
}

function wholeCard(about) {
  return packCard(about, "whole", h("p", { class: "small", text: pagesOf(about.t, about.pack) }), hints(about.t));
}

/** A card with the pack's own file. */
function packCard({ app, t, pack, saved, save, online, kept, current }, name, ...more) {
  const step = name === "rest" ? PRINTED.rest : PRINTED.first;
  const fetched = () => {
    save("ticks", { [step]: true });
    shown.done(true);
  };
  const props = { class: beginning(current && name === "whole"), download: true, on: { click: fetched } };
  const shown = card(t, name, Boolean(saved().ticks[step]),
    h("div", { class: "button-row" }, fileLink(t("pack.download"), pack.files.pack, online || kept, props), online && shareButton(app, pack)),
    more);
  return shown.element;
}

function pagesOf(t, { plan }) {
  const sheets = t("common.sheets", { count: plan.sheet_count });
  const pages = plan.pieces.at(-1).page;
  const grid = plan.grid?.square_mm ? "-grid" : "";
  return t(plan.sheet_count > 1 ? `pack.size${grid}` : `pack.size-one${grid}`, { pages, sheets });
}

function shopCard({ app, t, pack, online }) {
  const { width_mm: wide, height_mm: high } = pack.plan.picture;
  const { across_correction: across, down_correction: down } = pack.spec.print;
  const size = writeSize(wide, high, app.state.paper.unit, t.language);
  return h("section", { class: "pack-card", data: { card: "shop" } }, h("h2", { text: t("pack.card.shop") }),
    h("p", { class: "small", text: t("pack.card.shop-how", { size }) }),
    (across !== 1 || down !== 1) && h("p", { class: "small", text: t("pack.card.shop-uncorrected") }),
    fileLink(t("pack.card.shop-go"), pack.files.full_size, online, { class: "button", download: true }));
}

/** A link to a file, or where it cannot be fetched its name alone. */
function fileLink(text, href, there, props) {
  if (there) return h("a", { ...props, href }, text);
  return h("span", { class: props.class, role: "link", "aria-disabled": "true" }, text);
}

function shareButton(app, pack) {
  const { t } = app;
  const probe = new File([""], `${pack.number}.pdf`, { type: "application/pdf" });
  if (!navigator.canShare?.({ files: [probe] })) return null;
  const button = h("button", { type: "button", class: "button", text: t("pack.share"), on: { click: share } });

  async function share() {
    button.textContent = t("pack.sharing");
    try {
      const answer = await send(pack.files.pack);
      const file = new File([await answer.blob()], `${pack.number}.pdf`, { type: "application/pdf" });
      await navigator.share({ files: [file], title: pack.title });
      app.announce(t("pack.shared"));
    } catch (error) {
      if (error.name !== "AbortError") app.announce(t("pack.share-failed"), true);
    } finally {
      button.textContent = t("pack.share");
    }
  }

  return button;
}
