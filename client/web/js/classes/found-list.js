// A long list that is found in: a search field, and some lines at a time. A class of three hundred
// fits a phone; a short list shows no search field.

import { button } from "./parts.js";
import { h } from "../lib/browser/dom.js";
import { field } from "../controls/fields.js";

/** Lines that are shown at once, and from how many on there is a search field. */
const EACH = 30;
const FEW = 10;

/** Letters as they are compared: without marks, and small. */
function folded(text) {
  return text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();
}

/**
 * @param {object} app
 * @param {function(Array)} show draws the lines to be seen, of items with a `name`
 * @returns {{field: Element, more: Element, set: function(Array), found: function(): Array}}
 *   `found()` gives all items that match, also those that are not drawn yet
 */
export function foundList(app, show) {
  const { t } = app;
  let items = [];
  let most = EACH;
  const search = h("input", { type: "search", autocomplete: "off", spellcheck: "false", maxlength: 120, on: { input: () => { most = EACH; draw(); } } });
  const count = h("p", { class: "small", role: "status" });
  const more = button("", () => {
    most += EACH;
    draw();
  }, "quiet");
  const searchField = h("div", { class: "find" }, field(t("find.label"), search).element, count);

  const found = () => {
    const wanted = folded(search.value.trim());
    return wanted ? items.filter((one) => folded(one.name).includes(wanted)) : items;
  };

  function draw() {
    const matching = found();
    searchField.hidden = items.length <= FEW && !search.value;
    const text = search.value.trim() ? t("find.count", { count: matching.length }) : "";
    if (count.textContent !== text) count.textContent = text;
    more.hidden = matching.length <= most;
    more.textContent = t("find.more", { count: Math.min(EACH, matching.length - most) });
    show(matching.slice(0, most));
  }

  return {
    field: searchField, more, found,
    set(next) {
      items = next;
      draw();
    },
  };
}
