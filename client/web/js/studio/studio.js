// Step 6: the studio. One step at a time in large type, with the sheets that it is about lit up on
// the map; what was measured decides its step by itself. Ticks stay on this device.

import * as api from "../api/service.js";
import { fill, h } from "../lib/browser/dom.js";
import { backLink, screenLayout } from "../controls/screen/layout.js";
import { keepAwake } from "../lib/browser/wake-lock.js";
import { jobKey } from "../state/state.js";
import { problemText } from "../lib/texts/words.js";
import { studioSteps } from "./checklist.js";
import { judgeStep } from "./judgement.js";
import { studioMap } from "./map.js";
import { measurePart } from "./measure.js";
import { openOverview } from "./overview.js";

/** Texts of more letters are set a little smaller. */
const LONG = 90;

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  let stopKeeping = () => {};
  let over = false;

  waiting();
  load();

  /** What is there before the pack is, or in its place. */
  function waiting(...parts) {
    screenLayout(root, { title: t("studio.title"), controls: parts, actions: [backLink(t("step.pack"), "pack")] });
  }

  async function load() {
    const known = app.state.pack;
    if (!known) {
      showNone();
      return;
    }
    try {
      const pack = await api.pack(known.id);
      const format = pack.state === "ready" ? await formatTitle(pack) : "";
      if (over) return;
      if (pack.state !== "ready") showNone();
      else {
        stopKeeping = keepAwake();
        studio(root, app, pack, studioSteps(t, pack, app.state.paper.unit, format));
      }
    } catch (error) {
      if (!over) waiting(h("p", { class: "notice", text: error.code === "offline" ? t("studio.not-kept") : problemText(t, error) }));
    }
  }

  function showNone() {
    waiting(h("p", { class: "lead", text: t("studio.none") }),
      h("div", { class: "button-row" }, h("a", { class: "button", href: "#pack" }, t("sheets.next"))));
  }

  return {
    unmount() {
      over = true;
      stopKeeping();
      document.querySelector(".studio-overview")?.close();
    },
  };
}

async function formatTitle(pack) {
  const name = pack.spec.sheet.format;
  try {
    return (await api.sheetFormats()).find((one) => one.name === name)?.title ?? name;
  } catch {
    // Without a network the format's standard name is shown.
    return name;
  }
}

/** The steps of one pack, from the one at which it was left. */
function studio(root, app, pack, steps) {
  const { t } = app;
  const map = studioMap(t, pack);
  const place = h("p", { class: "studio-place" });
  const progress = h("progress", { max: steps.length, "aria-label": t("studio.all-steps") });
  const heading = h("h2", { class: "studio-text", tabindex: "-1" });
  const body = h("div", { class: "studio-body", tabindex: "0", role: "region", "aria-label": t("studio.step") });
  const foot = h("div", { class: "studio-foot" });
  const back = h("button", { type: "button", class: "button studio-back", on: { click: () => go(at - 1) } });
  const next = h("button", { type: "button", class: "button primary studio-next", on: { click: onward } });
  const saved = () => ({ ticks: {}, measured: {}, at: null, ...app.state.checklist[pack.id] });
  const keep = (change) => app.update({ checklist: { [pack.id]: { ...saved(), ...change } } });
  const all = steps.length;
  let at = firstAt();

  fill(root, h("div", { class: "studio" },
    h("h1", { class: "unseen", tabindex: "-1", text: t("studio.title") }),
    h("div", { class: "studio-head" }, place,
      h("button", { type: "button", class: "button studio-all", "aria-haspopup": "dialog", on: { click: overview } }, t("studio.all-steps")), progress),
    map.element, body, foot));
  if (saved().steps !== all) keep({ steps: all });
  draw();

  /** Where it was left, or the first step that is not done. */
  function firstAt() {
    const left = steps.findIndex(({ key }) => key === saved().at);
    if (left >= 0) return left;
    const open = steps.findIndex((step) => stateOf(step) !== "done");
    return open < 0 ? all : open;
  }

  /** @returns {"done"|"wrong"|""} */
  function stateOf(step) {
    if (!step.measure) return saved().ticks[step.key] ? "done" : "";
    const judged = judgeStep(pack, step.measure, saved().measured, app.state.paper.unit);
    return { fine: "done", wrong: "wrong", none: "" }[judged];
  }

  function tick(step, is) {
    keep({ ticks: { ...saved().ticks, [step.key]: is } });
  }

  function go(to) {
    at = Math.max(0, Math.min(all, to));
    keep({ at: steps[at]?.key ?? null });
    draw();
    app.announce(spoken());
  }

  function onward() {
    const step = steps[at];
    if (!step) {
      app.go("pack");
      return;
    }
    if (!step.measure) tick(step, true);
    go(at + 1);
  }

  const spoken = () => (steps[at] ? `${t("studio.progress", { number: at + 1, count: all })}. ${steps[at].text}` : t("studio.all-done"));

  function draw() {
    const step = steps[at];
    heading.textContent = step ? step.text : t("studio.all-done");
    heading.classList.toggle("long", heading.textContent.length > LONG);
    fill(body, heading, step ? stepParts(step) : []);
    body.scrollTop = 0;
    drawAround();
  }

  function stepParts(step) {
    return [
      step.note && h("p", { class: "studio-note", text: step.note }),
      step.measure && measurePart(app, pack, step.measure, { saved: saved().measured, save: saveMeasured, apply }),
      step.care && carePart(step),
    ];
  }

  /** Open where the danger comes up, one tap away in the steps after it. */
  function carePart({ care, careFirst }) {
    return h("details", { class: "notice studio-care", open: careFirst }, h("summary", { class: "care", text: t("studio.care") }),
      care.map((one) => h("p", { text: t(`studio.caution.${one}`) })));
  }

  function saveMeasured(values) {
    keep({ measured: { ...saved().measured, ...values } });
    // The card of this picture among the others counts ticks, and has no plan to judge by.
    tick(steps[at], stateOf(steps[at]) === "done");
    drawAround();
  }

  /** Everything but the step's own part, which may have the focus. */
  function drawAround() {
    const step = steps[at];
    const state = step ? stateOf(step) : "done";
    fill(place, step ? [h("b", { text: t(`studio.section.${step.section}`) }), " ", h("span", { text: t("studio.progress", { number: at + 1, count: all }) })] : t("studio.title"));
    progress.value = at;
    heading.classList.toggle("done", Boolean(step) && state === "done");
    map.show(step, doneLabels(step));
    back.textContent = t("common.back");
    back.hidden = at === 0;
    const skips = step?.measure && state !== "done";
    fill(next, t(!step ? "studio.to-pack" : skips ? "studio.skip" : state === "done" ? "common.next" : "studio.step-done"),
      h("span", { class: "arrow", "aria-hidden": "true" }, app.state.leftHanded ? "" : " →"));
    next.classList.toggle("primary", !skips);
    const held = foot.contains(document.activeElement) ? document.activeElement : null;
    fill(foot, app.state.leftHanded ? [next, back] : [back, next]);
    if (held) (held.hidden ? next : held).focus({ preventScroll: true });
  }

  /** The sheets with which this section is done. */
  function doneLabels(step) {
    const done = steps.filter((one) => one.section === step?.section && !one.measure && stateOf(one) === "done");
    // What is said of all sheets at once says nothing of one of them.
    return new Set(done.filter(({ lit = [] }) => lit.length < pack.plan.pieces.length).flatMap(({ lit = [] }) => lit));
  }

  function overview() {
    openOverview(app, pack, {
      steps, at, stateOf, tick, go, changed: drawAround,
      untick() {
        const { ticks, at: left } = saved();
        keep({ ticks: {}, at: null });
        return () => keep({ ticks, at: left });
      },
    });
  }

  /** Apply the printer's correction to the next pack. */
  function apply({ across, down }) {
    const { state } = app;
    const same = state.pack?.of === jobKey(state);
    app.update({ sheets: { acrossCorrection: across, downCorrection: down } });
    app.announce(same ? t("printer.bar.applied") : t("printer.bar.old"), true);
    app.go("pack");
  }
}
