// All steps at a glance, as a dialog: ticks, a tap to any step, and what is chosen once (which hand
// the buttons are for).

import { freshId, h, showDialog } from "../lib/browser/dom.js";
import { toggle } from "../controls/fields.js";

/**
 * Open it.
 * @param {object} app
 * @param {object} pack
 * @param {object} how
 * @param {Array} how.steps as studio/checklist.js makes them
 * @param {number} how.at the step that is shown
 * @param {function(object): "done"|"wrong"|""} how.stateOf
 * @param {function(object, boolean)} how.tick
 * @param {function(number)} how.go
 * @param {function(): function()} how.untick takes all ticks away; what it returns brings them back
 * @param {function()} how.changed after each change
 */
export function openOverview(app, pack, { steps, at, stateOf, tick, go, untick, changed }) {
  const { t } = app;
  const close = () => dialog.close();
  const sum = h("p", { class: "small", role: "status" });
  const rows = steps.map((step, index) => row(step, index));
  const sections = [...new Set(steps.map(({ section }) => section))];
  let bringBack = null;
  const clear = h("button", { type: "button", class: "button quiet", on: { click: clearOrBack } });

  function row(step, index) {
    const id = freshId("step");
    const box = h("input", {
      type: "checkbox", "aria-labelledby": id, data: { key: step.key },
      // What is measured decides by itself.
      disabled: Boolean(step.measure), on: { change: () => { tick(step, box.checked); show(); } },
    });
    const wrong = h("span", { class: "step-wrong", text: t("studio.off") });
    const button = h("button", {
      type: "button", id, class: "step-row-text", "aria-current": index === at ? "step" : null, on: { click: () => { close(); go(index); } },
    }, step.text, " ", wrong);
    return { step, box, wrong, element: h("li", { class: "step-row" }, h("span", { class: "step-box" }, box), button) };
  }

  function show() {
    for (const { step, box, wrong } of rows) {
      const state = stateOf(step);
      box.checked = state === "done";
      wrong.hidden = state !== "wrong";
    }
    const done = rows.filter(({ box }) => box.checked).length;
    sum.textContent = done === rows.length ? t("studio.all-done") : t("studio.done", { count: rows.length, done: String(done) });
    clear.textContent = t(bringBack ? "studio.retick" : "studio.start-over");
    changed();
  }

  function clearOrBack() {
    if (bringBack) bringBack();
    const cleared = !bringBack;
    bringBack = cleared ? untick() : null;
    show();
    if (cleared) app.announce(t("studio.started-over"));
  }

  show();
  const dialog = showDialog({ class: "sheetlet studio-overview", "aria-labelledby": "overview-title" }, [
    h("div", { class: "overview-head" },
      h("h2", { id: "overview-title", tabindex: "-1", text: t("studio.all-steps") }), sum,
      h("button", { type: "button", class: "button overview-close", on: { click: close } }, t("studio.close"))),
    h("div", { class: "overview-body" },
      sections.map((name) => [
        h("h3", { text: t(`studio.section.${name}`) }),
        h("ol", { class: "step-rows" }, rows.filter(({ step }) => step.section === name).map(({ element }) => element)),
      ]),
      h("div", { class: "overview-more" },
        toggle(t("common.left-handed"), app.state.leftHanded, (leftHanded) => { app.update({ leftHanded }); changed(); }),
        h("a", { class: "button", href: pack.files.map, target: "_blank" }, t("studio.map")), clear)),
  ], { tapBeside: true });
  rows[at]?.element.scrollIntoView({ block: "center" });
  dialog.querySelector("h2").focus({ preventScroll: true });
}
