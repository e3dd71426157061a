// The parts of a finished pack: its map, its file, its sheets, and how to print it with this browser.

import { frame, mayDelete, send, showPicture } from "../api/access.js";
import { fill, h } from "../lib/dom.js";
import { group, select } from "../controls/fields.js";
import { printHints, detectBrowser } from "../lib/print-hints.js";
import { forgetPacks } from "../api/offline-cache.js";
import { sheetCards } from "../controls/sheet-cards.js";

/**
 * @param {object} app
 * @param {object} pack the pack's document
 * @param {{another: function, remove: function, isCurrent: boolean}} actions
 * @returns {Array<Node>}
 */
export function readyParts(app, pack, { another, remove, isCurrent }) {
  const { t } = app;
  const sheets = t("sheets.short-count", { count: pack.plan.sheet_count });
  const pages = pack.plan.pieces.at(-1).page;
  const gridded = Boolean(pack.plan.grid?.square_mm);
  const size = pack.plan.sheet_count > 1
    ? t(gridded ? "pack.size-grid" : "pack.size", { pages, sheets })
    : t(gridded ? "pack.size-one-grid" : "pack.size-one", { pages });
  return [
    h("div", { class: "pack-sum" },
      h("p", { class: "figure", text: t("pack.ready-title") }),
      h("p", { class: "small", text: t("pack.number", { number: pack.number }) }),
      h("p", { class: "small", text: size })),
    h("div", { class: "button-row" },
      h("a", { class: isCurrent ? "button primary" : "button", href: pack.files.pack, download: true }, t("pack.download")),
      shareButton(app, pack)),
    group(t("pack.hints"), h("ol", { class: "hints" },
      printHints(detectBrowser(navigator)).map((key) => h("li", { text: t(key) })))),
    group(t("pack.sheets"), sheetCards(t, pack)),
    group(t("pack.reprint"), reprint(t, pack)),
    h("div", { class: "button-row" },
      h("button", { type: "button", class: "button", on: { click: another } }, t("pack.another"))),
    kept(app, remove),
  ];
}

/** The map, with a link to its full size. */
export function mapPart(t, pack) {
  const image = h("img", { alt: t("pack.map"), width: 910, height: 1286 });
  showPicture(image, pack.files.map);
  return h("a", { class: "pack-map", href: pack.files.map, target: "_blank", title: t("pack.map-large") }, image);
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

function reprint(t, pack) {
  const place = h("p", {});
  const sheets = new Map(pack.files.sheets.map((sheet) => [sheet.label, sheet]));

  function show(label) {
    fill(place, h("a", { class: "button", href: sheets.get(label).pdf, target: "_blank" },
      t("pack.reprint-go", { label })));
  }

  const labels = [...sheets.keys()];
  const list = select([{ options: labels.map((label) => [label, label]) }], labels[0], show);
  list.setAttribute("aria-label", t("pack.reprint-label"));
  show(labels[0]);
  return [h("p", { class: "small", text: t("pack.reprint-note") }), h("div", { class: "reprint" }, list, place)];
}

function kept(app, remove) {
  const { t } = app;
  const button = (text, click) => h("button", { type: "button", class: "button quiet", on: { click } }, text);
  if (frame) return mayDelete() && h("div", { class: "button-row" }, button(t("pack.delete"), remove));
  return h("details", { class: "kept" }, h("summary", { text: t("pack.kept") }),
    h("p", { class: "small", text: t("pack.kept-note") }),
    h("div", { class: "button-row" },
      button(t("pack.forget"), async () => {
        await forgetPacks();
        app.announce(t("pack.forgotten"));
      }),
      button(t("pack.delete"), remove)));
}
