// One picture of the shelf: its thumbnail in a frame, what it is, how far it is, and the button
// that goes on with it. The rest is one tap further.

import { mayDelete, showPicture } from "../api/access.js";
import { shortDay } from "../lib/texts/dates.js";
import { fill, h, showDialog } from "../lib/browser/dom.js";
import { writeSize } from "../lib/texts/units.js";
import { frameOf, pictureOf as sizeOf } from "../state/state.js";
import { anotherPhoto, continueJob, openPack, remove, samePhoto } from "./actions.js";
import { askForLostSheet } from "./lost-sheet.js";

const UNDER_WAY = new Set(["queued", "making"]);

/** A pack. @param {object} app @param {object} pack as the service's list has it */
export function packCard(app, pack) {
  const { t, state } = app;
  const { width_mm: width, height_mm: height, border_mm: border = 0 } = pack.spec.support;
  const ticked = tickedOf(state.checklist[pack.id]);
  const isReady = pack.state === "ready";
  const goes = isReady && ticked > 0 ? ["shelf.studio", "studio"] : ["shelf.open", "pack"];
  const actions = [
    [goes[0], () => openPack(app, pack, goes[1])],
    isReady && ticked > 0 && ["shelf.open", () => openPack(app, pack)],
    isReady && ticked === 0 && ["shelf.studio", () => openPack(app, pack, "studio")],
    isReady && ["shelf.lost", () => askForLostSheet(app, pack)],
    !UNDER_WAY.has(pack.state) && ["shelf.same", () => samePhoto(app, pack)],
    ["shelf.other", () => anotherPhoto(app, { pack })],
    mayDelete() && ["shelf.delete", () => remove(app, { pack })],
  ];
  return card(app, {
    title: pack.title, at: pack.created_at, actions: actions.filter(Boolean),
    size: [width, height], sheets: pack.sheets, number: pack.number, state: [howFar(t, pack, state.checklist[pack.id]), isReady && "fine", pack.state === "failed" && "warn"],
    progress: pack.state === "making" && pack.progress,
    thumbnail: isReady ? whole(pack.files?.thumbnail ?? `/v1/packs/${pack.id}/thumbnail.jpg`) : null,
    proportion: (width - 2 * border) / (height - 2 * border),
  });
}

/** A picture in work on this device, of which no pack was made. */
export function jobCard(app, picture) {
  const { t } = app;
  const { widthMm, heightMm } = picture.paper;
  const drawn = sizeOf(picture);
  return card(app, {
    title: picture.title, at: picture.begunAt, size: [widthMm, heightMm], state: [t(`shelf.at-${picture.step}`)],
    actions: [
      ["shelf.continue", () => continueJob(app, picture)],
      ["shelf.other", () => anotherPhoto(app, { picture })],
      ...(mayDelete() ? [["shelf.delete", () => remove(app, { picture })]] : []),
    ],
    thumbnail: framed(picture), proportion: drawn.widthMm / drawn.heightMm,
  });
}

function howFar(t, { state, progress }, checklist) {
  const done = tickedOf(checklist);
  if (state === "making" && progress.total) return t("shelf.making", { percent: Math.floor((100 * progress.done) / progress.total) });
  if (state !== "ready" || done === 0) return t(`shelf.is-${state}`);
  if (!checklist.steps) return t("shelf.is-ready");
  return done >= checklist.steps ? t("shelf.all-done") : t("studio.done", { count: checklist.steps, done: String(done) });
}

const tickedOf = (checklist) => Object.values(checklist?.ticks ?? {}).filter(Boolean).length;

function card(app, { title, at, size, sheets, number, state: [text, ...kinds], progress, actions, thumbnail, proportion }) {
  const { t } = app;
  const name = title || t("common.untitled");
  const [[goOn, act], ...rest] = actions;
  const facts = [writeSize(...size, app.state.paper.unit, t.language), sheets && t("common.sheets", { count: sheets })];
  const go = h("button", { type: "button", class: "button", on: { click: act } }, t(goOn), h("span", { class: "unseen", text: ` ${name}` }));
  const menu = h("button", { type: "button", class: "button quiet shelf-more", "aria-haspopup": "dialog", on: { click: () => openMenu(app, name, number, rest) } },
    h("span", { "aria-hidden": "true", text: "⋯" }), h("span", { class: "unseen", text: t("shelf.more", { title: name }) }));
  return h("li", { class: "shelf-card" },
    h("div", { class: "shelf-easel", "aria-hidden": "true", on: { click: act } }, frameFor(proportion, thumbnail)),
    h("div", { class: "shelf-words" },
      h("h2", { class: "shelf-title", dir: "auto", text: name }),
      h("p", { class: "small", text: facts.filter(Boolean).join(" · ") }),
      h("p", { class: "small", text: shortDay(t, at) }),
      h("p", { class: ["small state", ...kinds].filter(Boolean).join(" "), text }),
      progress && progress.total > 0 && h("progress", { max: progress.total, value: progress.done, "aria-label": name })),
    h("div", { class: "shelf-acts" }, go, menu));
}

/** The frame has the picture's proportion before the picture comes, so that nothing moves. */
function frameFor(proportion, thumbnail) {
  const frame = h("div", { class: "shelf-frame" });
  frame.style.aspectRatio = String(proportion);
  // The longer side fills the square place.
  frame.style.width = proportion >= 1 ? "100%" : `${100 * proportion}%`;
  if (thumbnail) fill(frame, thumbnail);
  return frame;
}

function picture(address) {
  const image = h("img", { alt: "", loading: "lazy", decoding: "async" });
  // Without a network the frame stays empty.
  image.addEventListener("error", () => image.remove());
  showPicture(image, address);
  return image;
}

function whole(address) {
  const image = picture(address);
  image.className = "shelf-whole";
  return image;
}

/** The photo, cut as its frame says. */
function framed(one) {
  const { cx, cy, width, height, rotateDeg } = frameOf(one);
  const image = picture(one.photo.previewUrl);
  Object.assign(image.style, {
    width: `${100 / width}%`, height: `${100 / height}%`, left: `${50 - (100 * cx) / width}%`, top: `${50 - (100 * cy) / height}%`,
    transformOrigin: `${100 * cx}% ${100 * cy}%`, transform: rotateDeg ? `rotate(${-rotateDeg}deg)` : "",
  });
  return image;
}

function openMenu(app, name, number, actions) {
  const { t } = app;
  const close = () => dialog.close();
  const dialog = showDialog({ class: "sheetlet", "aria-label": name }, [
    h("div", {}, h("h2", { dir: "auto", text: name }), number && h("p", { class: "small", text: t("common.number", { number }) })),
    h("div", { class: "sheetlet-links" }, actions.map(([key, act]) => h("button", {
      type: "button", class: key === "shelf.delete" ? "button quiet danger" : "button", on: { click: () => { close(); act(); } },
    }, t(key)))),
    h("button", { type: "button", class: "button quiet", on: { click: close } }, t("common.leave-it")),
  ], { tapBeside: true });
}
