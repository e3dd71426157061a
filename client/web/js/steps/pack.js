// Step 5: the pack. It is ordered, followed while it is made, and downloaded. A phone may sleep
// meanwhile: the pack is stored in the state, and followed again when the phone wakes.

import { packDeletion } from "../api/deletions.js";
import * as api from "../api/service.js";
import { mayDelete } from "../api/access.js";
import { fill, h } from "../lib/dom.js";
import { field } from "../controls/fields.js";
import { keepPack, reachable } from "../api/offline-cache.js";
import { backLink, nextLink, screenLayout } from "../controls/screen-layout.js";
import { mapPart, readyParts } from "./pack-ready.js";
import { allPictures } from "../state/pictures.js";
import { jobKey, specOf, printerPatch } from "../state/state.js";
import { writeSize } from "../lib/units.js";
import { problemText } from "../lib/words.js";

const UNDER_WAY = new Set(["queued", "making"]);

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const pictureArea = h("div", { class: "pack-easel" });
  const status = h("div", { class: "pack-status" });
  const notices = h("div", { class: "notices" });
  const foot = h("div", { class: "pack-foot" });
  let pack = null;
  let key = null;
  let asking = false;
  let cancelling = "";
  let stopFollowing = () => {};

  screenLayout(root, {
    title: t("pack.title"),
    pictureArea,
    controls: [status, notices],
    actions: [backLink(t("pack.to-sheets"), "sheets"), foot],
  });
  const stop = app.subscribe((state, before) => {
    if (jobKey(state) === jobKey(before)) return;
    key = null;
    if (!pack || !UNDER_WAY.has(pack.state)) drawFoot();
  });
  if (app.state.pack) follow(app.state.pack.id);
  draw();

  function draw() {
    fill(pictureArea, pack?.state === "ready" && mapPart(t, pack));
    pictureArea.hidden = pack?.state !== "ready";
    fill(status, statusParts());
    drawFoot();
  }

  function statusParts() {
    if (pack && UNDER_WAY.has(pack.state)) return [progressPart()];
    const ended = pack && endedParts();
    if (!app.state.photo) return ended || [noPhoto()];
    if (isCurrent()) return [ended];
    // The form for a new pack comes first, the pack made before below it.
    return pack?.state === "ready" ? [order(), ended] : [ended, order()];
  }

  /** Whether the finished pack is that of the current job. */
  function isCurrent() {
    return pack?.state === "ready" && (!app.state.photo || app.state.pack?.of === jobKey(app.state));
  }

  function noPhoto() {
    return h("div", {}, h("p", { class: "lead", text: t("pack.no-photo") }),
      h("a", { class: "button", href: "#photo" }, t("pack.to-photo")));
  }

  function endedParts() {
    if (pack.state === "ready") return readyParts(app, pack, { another, remove, isCurrent: isCurrent() });
    const text = pack.state === "failed" ? failure(pack.error) : t("pack.cancelled");
    return [h("div", { class: pack.state === "failed" ? "notice bad" : "notice" },
      h("h2", { text: t(`pack.${pack.state}-title`) }), h("p", { text }))];
  }

  function failure({ code, detail }) {
    const own = `pack.failed.${code}`;
    return t.has(own) ? t(own) : t("pack.failed.other", { detail });
  }

  /** The job: title, size, and the printer's correction. */
  function order() {
    const input = h("input", {
      type: "text", maxlength: 120, value: app.state.title, autocomplete: "off", placeholder: t("pack.untitled"),
      on: { input: () => app.update({ title: input.value }) },
    });
    const size = h("p", { class: "small" });
    describe(size);
    return [field(t("pack.name"), input, { note: t("pack.name-note") }).element, size, correction(),
      h("p", {}, h("a", { href: "#squares" }, t("bysquares.entry")))];
  }

  async function describe(place) {
    const { state } = app;
    try {
      const [plan, formats] = await Promise.all([
        api.plan(state.photo.referenceId, specOf(state)), api.sheetFormats(),
      ]);
      place.textContent = t("pack.summary", {
        size: writeSize(state.paper.widthMm, state.paper.heightMm, state.paper.unit, t.language),
        sheets: t("sheets.short-count", { count: plan.sheet_count }),
        format: formats.find((one) => one.name === state.paper.sheetFormat)?.title ?? "",
      });
    } catch (error) {
      if (error.code !== "offline") showProblem(error);
    }
  }

  function correction() {
    const { acrossCorrection, downCorrection } = app.state.sheets;
    if (acrossCorrection === 1 && downCorrection === 1) return null;
    const factor = (value) => t.number(value, 4);
    return h("div", { class: "notice" },
      h("p", { text: t("pack.corrected", { across: factor(acrossCorrection), down: factor(downCorrection) }) }),
      h("button", {
        type: "button", class: "button",
        on: { click: () => { app.update(printerPatch(null)); draw(); } },
      }, t("pack.uncorrect")));
  }

  function progressPart() {
    const { done, total, step } = pack.progress;
    const name = pack.state === "queued" && step !== "waiting-for-room" ? "waiting" : step;
    const bar = h("progress", { max: total || 1, "aria-label": t("pack.progress") });
    if (pack.state === "making" && total) bar.value = done;
    return h("div", { class: "progress-part" },
      h("h2", { text: t(`pack.${pack.state}`) }), bar,
      h("p", { text: t.has(`pack.step.${name}`) ? t(`pack.step.${name}`, { done, total }) : "" }),
      h("p", { class: "small", text: t("pack.sleep") }));
  }

  /** Draw the buttons again; the focus stays on the same one. */
  function drawFoot() {
    const held = foot.contains(document.activeElement);
    if (pack && UNDER_WAY.has(pack.state)) {
      fill(foot, mayDelete() && button(t(cancelling === pack.id ? "pack.cancelling" : "pack.cancel"), cancel, "button", cancelling === pack.id));
    } else if (isCurrent()) {
      fill(foot, nextLink(t("pack.studio"), "studio", { class: "button" }));
    } else if (app.state.photo) {
      const stale = pack?.state === "ready" && h("p", { class: "small", text: t("pack.stale") });
      const name = asking ? "pack.asking" : pack ? "pack.make-again" : "pack.make";
      fill(foot, stale, button(t(name), make, "button primary", asking));
    } else fill(foot);
    if (held) [...foot.querySelectorAll("button, a")].at(-1)?.focus({ preventScroll: true });
  }

  /** A button; one that waits is aria-disabled, since `disabled` would lose the focus. */
  function button(text, click, className, waits = false) {
    return h("button", { type: "button", class: className, "aria-disabled": waits && "true", on: { click } }, text);
  }

  async function make() {
    if (asking) return;
    key ??= api.freshKey();
    asking = true;
    fill(notices);
    drawFoot();
    const { state } = app;
    const of = jobKey(state);
    try {
      const made = await api.createPack(state.photo.referenceId, specOf(state), state.title, key);
      key = null;
      app.update({ pack: { id: made.id, state: made.state, of, referenceId: state.photo.referenceId } });
      asking = false;
      pack = made;
      follow(made.id);
      draw();
    } catch (error) {
      asking = false;
      showProblem(error);
      drawFoot();
    }
  }

  function follow(id) {
    stopFollowing();
    let announced = "";
    stopFollowing = api.followPack(id, (document) => {
      fill(notices);
      const before = pack?.state;
      pack = document;
      if (document.state === "ready" && before !== "ready") announceReady(document);
      if (document.state !== app.state.pack?.state) {
        app.update({ pack: { ...app.state.pack, id, state: document.state } });
      }
      if (document.state !== before || UNDER_WAY.has(document.state)) draw();
      if (document.state !== announced) app.announce(spoken(document));
      announced = document.state;
    }, (error) => lost(error));
  }

  function spoken(document) {
    const title = { ready: "pack.ready", failed: "pack.failed-title", cancelled: "pack.cancelled-title" };
    return t(title[document.state] ?? `pack.${document.state}`);
  }

  async function announceReady(document) {
    if (await reachable()) await keepPack(document.id);
    else fill(notices, h("p", { class: "notice", text: t("pack.offline") }));
  }

  function lost(error) {
    if ([403, 404].includes(error.status)) {
      pack = null;
      app.update({ pack: null });
      fill(notices, h("div", { class: "notice" }, h("h2", { text: t("pack.gone-title") }), h("p", { text: t("pack.gone") })));
      draw();
    } else if (!pack || UNDER_WAY.has(pack.state)) {
      fill(notices, h("p", { class: "notice", text: pack ? t("pack.unreachable") : t("pack.offline-none") }));
    }
  }

  async function cancel() {
    if (cancelling === pack.id) return;
    cancelling = pack.id;
    drawFoot();
    try {
      await api.deletePack(pack.id);
    } catch (error) {
      cancelling = "";
      showProblem(error);
      drawFoot();
    }
  }

  /** Delete it in ten seconds; the other pictures are shown meanwhile. */
  function remove() {
    stopFollowing();
    const referenceId = pack.links.reference.split("/").pop();
    app.deletions.add(packDeletion(allPictures(app.state), { id: pack.id, title: pack.title, referenceId }));
    app.go("shelf");
  }

  function another() {
    stopFollowing();
    pack = null;
    app.update({ pack: null });
    draw();
  }

  function showProblem(error) {
    fill(notices, h("p", { class: "notice bad", text: problemText(t, error) }));
    app.announce(problemText(t, error), true);
  }

  return {
    unmount() {
      stop();
      stopFollowing();
    },
  };
}
