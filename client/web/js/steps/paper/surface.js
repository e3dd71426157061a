// Border, colour and medium of the support in the paper step.

import { fill, h } from "../../lib/browser/dom.js";
import { choice, field, select } from "../../controls/fields.js";
import { lengthField } from "../../controls/length-field.js";
import { mostBorderOf } from "../../lib/paper/supports.js";

/** What is drawn with; pastel stands for charcoal too. */
const MEDIA = ["other", "graphite", "coloured-pencil", "pastel", "paint"];

/** The blank border. @returns {{element: Element, unmount: function}} */
export function borderControls(app) {
  const { t } = app;
  const border = h("div");
  draw();
  const stop = app.subscribe((state, before) => {
    const typing = border.contains(document.activeElement);
    const other = state.paper.unit !== before.paper.unit || state.paper.borderMm !== before.paper.borderMm;
    if (other && !typing) draw();
  });

  function draw() {
    fill(border, lengthField(t, {
      label: t("paper.border"), note: t("paper.border-note"), mm: app.state.paper.borderMm, unit: app.state.paper.unit,
      most: () => mostBorderOf(app.state.paper), change: (borderMm) => app.update({ paper: { borderMm } }),
    }));
  }

  return { element: border, unmount: stop };
}

/** Colour of the paper, and the medium. @returns {Array<Element>} */
export function surfaceControls(app) {
  const { t } = app;
  const tones = ["light", "mid", "dark"].map((tone) => [tone, [
    h("span", { class: `swatch tone-${tone}`, "aria-hidden": "true" }), t(`paper.tone-${tone}`)]]);
  const media = MEDIA.map((one) => [one, t(`paper.medium-${one}`)]);
  const medium = select([{ options: media }], app.state.paper.medium, (one) => app.update({ paper: { medium: one } }));
  return [
    h("div", {},
      choice("tone", t("paper.tone"), tones, app.state.paper.tone, (tone) => app.update({ paper: { tone } })),
      h("p", { class: "note", text: t("paper.tone-note") })),
    field(t("paper.medium"), medium, { note: t("paper.medium-note") }).element];
}
