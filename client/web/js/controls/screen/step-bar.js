// The bar of the steps: the current one and its neighbours by name, those done with a tick. Where
// six names have no room, the current one opens the list of all.

import { freshId, h, svg } from "../../lib/browser/dom.js";
import { settingsButton } from "./language-theme.js";
import { personLink } from "./person-links.js";
import { STEPS } from "../../lib/browser/routes.js";

/** @param {object} app @param {string} step @returns {Array<Element>} what the bar holds */
export function stepBar(app, step) {
  const { t } = app;
  return [
    h("a", { class: "mark", href: "#shelf", "aria-label": t("app.home") }, "Ricalco"),
    h("nav", { class: "steps-nav", "aria-label": t("app.steps") }, stepList(app, step)),
    h("div", { class: "bar-end" }, personLink(app), settingsButton(app))];
}

function stepList(app, step) {
  const { t } = app;
  const id = freshId("steps");
  const now = STEPS.indexOf(step);
  const here = h("button", {
    type: "button", class: "step-here", "aria-current": "step", "aria-expanded": "false", "aria-controls": id,
    on: { click: () => open(!isOpen()) },
  }, face(app, now, false), h("span", { class: "unseen", text: t("app.step-of", { at: now + 1, of: STEPS.length }) }), svg("svg", { class: "step-all", viewBox: "0 0 12 12", "aria-hidden": "true" }, svg("path", { d: "M2 4l4 4 4-4" })));
  const list = h("ol", { class: "steps", id, on: { keydown: escaped, focusout: left } }, STEPS.map((name, index) => h("li", { class: kindOf(index, now) },
    index === now && here,
    h("a", { href: `#${name}`, "aria-current": index === now ? "step" : null }, face(app, index, isDone(app.state, index))))));

  const isOpen = () => list.classList.contains("open");

  function open(is) {
    list.classList.toggle("open", is);
    document[is ? "addEventListener" : "removeEventListener"]("pointerdown", left);
    here.setAttribute("aria-expanded", String(is));
  }

  function escaped(event) {
    if (event.key !== "Escape" || !isOpen()) return;
    open(false);
    here.focus();
  }

  /** A tap elsewhere, or the Tab key, closes the list. */
  function left({ type, target, relatedTarget }) {
    if (!list.contains(type === "pointerdown" ? target : relatedTarget)) open(false);
  }

  return list;
}

function kindOf(index, now) {
  if (index === now) return "here near";
  return Math.abs(index - now) === 1 ? "near" : "";
}

/** A step's number, or its tick, and its name. */
function face({ t }, index, done) {
  const mark = done
    ? svg("svg", { class: "step-tick", viewBox: "0 0 16 16", role: "img", "aria-label": t("app.done") }, svg("path", { d: "M2 9l4 4 8-10" }))
    : h("span", { class: "step-number", "aria-hidden": "true", text: index + 1 });
  return [mark, h("span", { class: "step-name", text: t(`step.${STEPS[index]}`) })];
}

/** A photo is done when it is there, a pack when it is ready, the rest when one has gone on from it. */
function isDone({ photo, pack, reached }, index) {
  if (STEPS[index] === "pack") return pack?.state === "ready";
  return photo !== null && (index === 0 || index < reached);
}
