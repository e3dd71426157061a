// The same picture in another style: a tap makes a pack of it, with nothing set up twice, or opens
// the one that was made before.

import { h } from "../../lib/browser/dom.js";
import { changeablePart, mayChangeField } from "../../state/class-defaults.js";
import { jobKey, specOf } from "../../state/state.js";

/** Lines to trace; tones and colour to work from at the easel. */
const OFFERED = ["outline", "values", "colour"];

/**
 * @param {object} app
 * @param {object} pack the pack's document
 * @param {{online: boolean, order: function(object), open: function(object)}} how
 *   `order` makes a pack of a job, `open` shows another pack of `state.pack.styles`
 * @returns {Node|null}
 */
export function stylesCard(app, pack, { online, order, open }) {
  const { t, state } = app;
  const here = pack.spec.tone.style;
  const made = { ...state.pack?.styles };
  delete made[here];
  const rules = state.settled?.mayChange;
  const free = online && (!rules || mayChangeField(rules, "tone.style"));
  const styles = [...new Set([...OFFERED, ...Object.keys(made)])].filter((style) => style !== here && (made[style] || free));
  if (styles.length === 0) return null;
  const button = (style) => h("button", {
    type: "button", class: "button style-button", data: { style },
    on: { click: () => (made[style] ? open({ ...made[style], style }) : order(jobInStyle(app, pack, style))) },
  }, t(`pack.style.${style}`), made[style] && h("span", { class: "small", text: t("pack.style-made") }));
  return h("section", { class: "pack-card", data: { card: "styles" } }, h("h2", { text: t("pack.card.styles") }),
    h("p", { class: "small", text: t("pack.card.styles-how") }),
    h("div", { class: "button-row" }, styles.map(button)));
}

/**
 * The job of a pack in another style. Where the page's choices are still those of the pack, they
 * follow, so that going back to the sheets shows this style.
 */
function jobInStyle(app, pack, style) {
  if (app.state.photo && app.state.pack?.of === jobKey(app.state)) {
    app.update({ sheets: { style } });
    return { ...jobOfState(app.state), styles: stylesWith(app.state, pack) };
  }
  const spec = { ...pack.spec, tone: { ...pack.spec.tone, style } };
  return { ...jobOfPack(app, pack, spec), styles: stylesWith(app.state, pack) };
}

/** The job that the page's choices describe. */
export function jobOfState(state) {
  return { referenceId: state.photo.referenceId, spec: specOf(state), title: state.title, of: jobKey(state) };
}

/** A pack's own job with another spec, whatever the page's choices are. */
export function jobOfPack(app, pack, spec) {
  const referenceId = pack.links.reference.split("/").at(-1);
  return { referenceId, spec: changeablePart(spec, app.state.settled), title: pack.title, of: "" };
}

/** The packs of one picture by their styles, with this one. */
function stylesWith(state, pack) {
  return { ...state.pack?.styles, [pack.spec.tone.style]: { id: pack.id, of: state.pack?.of ?? "" } };
}
