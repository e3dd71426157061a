// Step 5: the pack. It is ordered, followed while it is made, and printed from here. A phone may
// sleep meanwhile: the pack is stored in the state, and followed again when the phone wakes.

import { packDeletion } from "../../api/deletions.js";
import * as api from "../../api/service.js";
import { mayDelete } from "../../api/access.js";
import { fill, h } from "../../lib/browser/dom.js";
import { keepPack, PACKS, reachable } from "../../api/offline-cache.js";
import { backLink, nextLink, screenLayout } from "../../controls/screen/layout.js";
import { sheetStack } from "../../controls/sheet-stack.js";
import { packPicture } from "../../draw/pack-picture.js";
import { orderForm } from "./order.js";
import { lastParts, readyParts } from "./ready.js";
import { jobOfPack, jobOfState, stylesCard } from "./styles.js";
import { routeOf } from "../../lib/browser/routes.js";
import { allPictures } from "../../state/pictures.js";
import { jobKey, ofThisPhoto, specOf } from "../../state/state.js";
import { problemText } from "../../lib/texts/words.js";

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
  let online = true;
  let kept = false;
  // The picture of the job or of the pack that is being made, by what it shows.
  let shown = { of: "", view: null };
  let stopFollowing = () => {};

  screenLayout(root, {
    title: t("pack.title"),
    pictureArea,
    controls: [notices, status],
    actions: [backLink(t("pack.to-sheets"), "sheets"), foot],
  });
  const stop = app.subscribe((state, before) => {
    if (jobKey(state) === jobKey(before)) return;
    key = null;
    if (!pack || !UNDER_WAY.has(pack.state)) drawFoot();
  });
  for (const name of ["online", "offline"]) window.addEventListener(name, lookForNetwork);
  if (ofThisPhoto(app.state)) follow(app.state.pack.id);
  draw();

  function draw() {
    if (pack?.state === "ready") showStack();
    else if (pack && UNDER_WAY.has(pack.state)) showPicture(pack.id, pack.links.reference.split("/").at(-1), pack.spec).show(pack.plan, doneOf(pack));
    else if (app.state.photo) showPicture("job", app.state.photo.referenceId, specOf(app.state));
    else fill(pictureArea);
    pictureArea.hidden = !pictureArea.firstChild;
    fill(status, statusParts());
    drawFoot();
  }

  function showStack() {
    const of = `${pack.id} ${online}`;
    if (shown.of !== of) fill(pictureArea, sheetStack(app, pack, { online }));
    shown = { of, view: null };
  }

  /** The picture of what is not made yet; drawn anew only for another. */
  function showPicture(of, referenceId, spec) {
    if (shown.of !== of) {
      shown = { of, view: packPicture(referenceId, spec) };
      fill(pictureArea, shown.view.element);
    }
    return shown.view;
  }

  function statusParts() {
    if (pack && UNDER_WAY.has(pack.state)) return [progressPart()];
    if (pack?.state === "ready") return isCurrent() ? ready() : [h("p", { class: "notice", text: t("pack.stale") }), order(), ready()];
    if (!app.state.photo) return [pack ? ended() : noPhoto()];
    return [pack && ended(), !pack && earlier(), order()];
  }

  /** Whether the finished pack is that of the current job. */
  function isCurrent() {
    return pack?.state === "ready" && (!app.state.photo || app.state.pack?.of === jobKey(app.state));
  }

  function noPhoto() {
    return h("div", {}, h("p", { class: "lead", text: t("pack.no-photo") }),
      h("a", { class: "button", href: "#photo" }, t("pack.to-photo")));
  }

  /** Where the pack of another photo is. */
  function earlier() {
    if (!app.state.pack || ofThisPhoto(app.state) || routeOf("#shelf").name !== "shelf") return null;
    return h("p", { class: "small" }, h("a", { href: "#shelf" }, t("pack.earlier")));
  }

  function ready() {
    return [readyParts(app, pack, { online, kept, correct, current: isCurrent() }),
      stylesCard(app, pack, { online, order: (job) => make(job), open }), lastParts(app, { another, remove })];
  }

  function ended() {
    const text = pack.state === "failed" ? failure(pack.error) : t("pack.cancelled");
    return h("div", { class: pack.state === "failed" ? "notice bad" : "notice" },
      h("h2", { text: t(`pack.${pack.state}-title`) }), h("p", { text }));
  }

  function failure({ code, detail }) {
    const own = `pack.failed.${code}`;
    return t.has(own) ? t(own) : t("pack.failed.other", { detail });
  }

  function order() {
    return orderForm(app, {
      make: () => make(),
      redraw: draw,
      planned: (plan) => shown.of === "job" && shown.view.show(plan),
      problem: (error) => {
        if (error.code === "offline") lookForNetwork();
        else showProblem(error);
      },
    });
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
      const name = asking ? "pack.asking" : pack ? "pack.make-again" : "pack.make";
      fill(foot, button(t(name), () => make(), "button primary", asking));
    } else fill(foot);
    if (held) [...foot.querySelectorAll("button, a")].at(-1)?.focus({ preventScroll: true });
  }

  /** A button; one that waits is aria-disabled, since `disabled` would lose the focus. */
  function button(text, click, className, waits = false) {
    return h("button", { type: "button", class: className, "aria-disabled": waits && "true", on: { click } }, text);
  }

  /** Make a pack, of what is chosen on the page unless another job is given. */
  async function make(job = jobOfState(app.state)) {
    if (asking) return;
    const mine = job.of === jobKey(app.state) && !job.styles;
    const once = mine ? key ??= api.freshKey() : api.freshKey();
    asking = true;
    fill(notices);
    drawFoot();
    try {
      const made = await api.createPack(job.referenceId, job.spec, job.title, once, showProblem);
      key = null;
      app.update({ pack: { id: made.id, state: made.state, of: job.of, referenceId: job.referenceId, styles: job.styles ?? {} } });
      asking = false;
      showNew(made);
    } catch (error) {
      asking = false;
      showProblem(error);
      drawFoot();
    }
  }

  function showNew(made) {
    // The field or button that was used is gone: whoever works by keys goes on at the foot.
    const used = status.contains(document.activeElement);
    pack = made;
    kept = false;
    follow(pack.id);
    draw();
    if (used) foot.querySelector("button, a")?.focus({ preventScroll: true });
    window.scrollTo(0, 0);
  }

  /** Show a pack of the same picture in another style, and set the page to that style where it is its job. */
  function open({ id, of, style }) {
    const { state } = app;
    const styles = { ...state.pack.styles, [pack.spec.tone.style]: { id: pack.id, of: state.pack.of } };
    if (state.photo && state.pack.of === jobKey(state)) app.update({ sheets: { style } });
    app.update({ pack: { ...state.pack, id, of, state: "ready", styles } });
    follow(id);
    window.scrollTo(0, 0);
  }

  /** Make the pack again with its printer's correction. */
  function correct({ across, down }) {
    if (app.state.photo && app.state.pack?.of === jobKey(app.state)) {
      app.update({ sheets: { acrossCorrection: across, downCorrection: down } });
      make();
      return;
    }
    app.update({ sheets: { acrossCorrection: across, downCorrection: down } });
    const print = { ...pack.spec.print, across_correction: across, down_correction: down };
    make(jobOfPack(app, pack, { ...pack.spec, print }));
  }

  function follow(id) {
    stopFollowing();
    let announced = "";
    stopFollowing = api.followPack(id, (document) => {
      if (document.state !== "ready") fill(notices);
      const before = pack?.id === document.id ? pack.state : null;
      pack = document;
      if (document.state === "ready" && before !== "ready") lookForNetwork();
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

  /** Say whether the service can be reached; what needs it is not offered without. */
  async function lookForNetwork() {
    const there = await reachable();
    const { id = "" } = pack ?? {};
    if (there && pack?.state === "ready") await keepPack(id);
    const had = !there && pack?.state === "ready" && await isKept(pack.files.pack);
    if ((pack?.id ?? "") !== id || !root.isConnected) return;
    const changed = there !== online || had !== kept;
    [online, kept] = [there, had];
    fill(notices, !there && h("p", { class: "notice", role: "status", text: t(pack?.state === "ready" ? "pack.offline" : "problem.offline") }));
    if (changed && pack?.state === "ready") draw();
  }

  function lost(error) {
    if ([403, 404].includes(error.status)) {
      pack = null;
      app.update({ pack: null });
      fill(notices, h("div", { class: "notice" }, h("h2", { text: t("pack.gone-title") }), h("p", { text: t("pack.gone") })));
      draw();
    } else if (!pack || UNDER_WAY.has(pack.state) || pack.id !== app.state.pack?.id) {
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
    window.scrollTo(0, 0);
  }

  function showProblem(error) {
    fill(notices, h("p", { class: "notice bad", text: problemText(t, error) }));
    notices.scrollIntoView({ block: "nearest" });
    app.announce(problemText(t, error), true);
  }

  return {
    unmount() {
      stop();
      stopFollowing();
      for (const name of ["online", "offline"]) window.removeEventListener(name, lookForNetwork);
    },
  };
}

/** Pieces that are on their pages. */
function doneOf({ state, progress }) {
  if (state !== "making") return 0;
  return progress.step === "writing" ? progress.total : progress.done;
}

/** Whether the device has the pack's file, from when it was opened. */
async function isKept(address) {
  try {
    return Boolean(await caches.match(address, { cacheName: PACKS }));
  } catch {
    return false;
  }
}
