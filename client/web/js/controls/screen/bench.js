// The layout of the screens on which one works at the picture: it is as large as the screen
// allows, and under it, or beside it where there is room, tools open one short panel at a time.
// The page itself never scrolls there, and the main button never moves.

import { fill, freshId, h, svg } from "../../lib/browser/dom.js";

/** Screens on which panel and picture stand side by side (css/bench.css has the same). */
const BESIDE = "(min-width: 768px) and (min-aspect-ratio: 1), (orientation: landscape) and (max-height: 480px) and (min-width: 600px)";

/** Where an open panel takes nothing from the picture. */
const ROOMY = `${BESIDE}, (min-height: 1000px)`;

/**
 * Lay a screen out.
 * @param {Element} root
 * @param {object} parts
 * @param {string} parts.title
 * @param {Node} parts.pictureArea It fills the place it is given, 100cqw × 100cqh.
 * @param {Node} [parts.sum] What comes of the choices, in a line or two.
 * @param {string} [parts.toolsName] Accessible name of the row of tools.
 * @param {Array<{id: string, name: string, icon: Node, panel: Node, opened?: function(boolean)}|false|null>} [parts.tools]
 *   `opened(is)` is called when the panel is opened or closed
 * @param {string|null} [parts.first] The tool that is open at first where it takes nothing from the picture.
 * @param {Array} [parts.actions] Buttons and links at the foot, the primary one last.
 * @returns {{element: HTMLElement, open: function(string|null), current: function(): string|null, name: function(string, string),
 *   focus: function(string)}} `open(null)` closes the panel; `name(id, text)` renames a tool; `focus(id)` moves the focus to it
 */
export function bench(root, { title, pictureArea, sum, toolsName = "", tools = [], first = null, actions = [] }) {
  const panelId = freshId("panel");
  const panel = h("div", { class: "bench-panel", id: panelId, role: "region", hidden: true, on: { keydown: escaped } });
  const shown = new Map(tools.filter(Boolean).map((tool) => [tool.id, { ...tool, button: toolButton(tool) }]));
  let current = null;

  function toolButton({ id, name, icon }) {
    return h("button", {
      type: "button", class: "tool", "aria-expanded": "false", "aria-controls": panelId, data: { tool: id },
      on: { click: () => open(current === id ? null : id) },
    }, h("span", { class: "tool-icon", "aria-hidden": "true" }, icon), h("span", { class: "tool-name", text: name }));
  }

  function open(id) {
    if (id === current) return;
    const [before, next] = [shown.get(current), shown.get(id)];
    current = next ? id : null;
    for (const [one, { button }] of shown) button.setAttribute("aria-expanded", String(one === current));
    panel.hidden = !next;
    if (next) {
      panel.setAttribute("aria-label", next.button.textContent);
      fill(panel, next.panel);
      panel.scrollTop = 0;
    } else panel.replaceChildren();
    before?.opened?.(false);
    next?.opened?.(true);
  }

  function escaped(event) {
    if (event.key !== "Escape" || event.defaultPrevented || !current) return;
    const { button } = shown.get(current);
    open(null);
    button.focus({ preventScroll: true });
  }

  const element = h("div", { class: "bench" },
    h("div", { class: "bench-head" }, h("h1", { tabindex: "-1", text: title })),
    h("div", { class: "bench-picture" }, pictureArea),
    h("div", { class: "bench-side" },
      sum && h("div", { class: "bench-sum" }, sum),
      shown.size > 0 && h("div", { class: "bench-tools", role: "group", "aria-label": toolsName },
        [...shown.values()].map(({ button }) => button)),
      panel,
      h("div", { class: "plate-foot bench-foot" }, actions)));
  fill(root, element);
  if (first && matchMedia(ROOMY).matches) open(first);
  return {
    element,
    open,
    current: () => current,
    name(id, text) {
      shown.get(id).button.querySelector(".tool-name").textContent = text;
    },
    focus: (id) => shown.get(id).button.focus({ preventScroll: true }),
  };
}

/** An icon of 24 × 24 in lines, of path data. @param {...string} paths */
export function lineIcon(...paths) {
  return svg("svg", { class: "line-icon", viewBox: "0 0 24 24", "aria-hidden": "true" },
    paths.map((d) => svg("path", { d })));
}
