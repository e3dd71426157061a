// Parts shared by the screens for people and classes: the heading with a class's navigation, a key
// that is shown once, a confirmation before something is deleted, polling.

import { fill, freshId, h, showDialog } from "../lib/browser/dom.js";
import { problemText } from "../lib/texts/words.js";

const VIEWS = ["", "roster", "packs", "settings"];

/**
 * Lay out a screen of a class: heading, navigation, two columns from a tablet on.
 * @param {HTMLElement} root
 * @param {object} app
 * @param {{title: string, lead?: string, id?: string, view?: string, main: Array, side?: Array,
 *   sideFirst?: boolean}} parts `sideFirst`: on a phone, the side column comes before a long list
 * @returns {{heading: HTMLElement, within: function(string, string, string)}} `within` shows
 *   the navigation of a class that is known only later
 */
export function classLayout(root, app, { title, lead = "", id = null, view = "", main, side = [], sideFirst = false }) {
  const heading = h("h1", { tabindex: "-1", dir: "auto", text: title });
  const running = h("div", {}, lead && h("p", { class: "lead", text: lead }), id && classNav(app, id, view));
  const columns = [h("div", { class: "room-main" }, main), side.length > 0 && h("div", { class: "room-side" }, side)];
  fill(root, h("div", { class: side.length ? "room room-two" : "room" },
    h("div", { class: "room-head" }, heading, running), sideFirst ? columns.reverse() : columns));
  return {
    heading,
    within(classId, ofView, text) {
      fill(running, h("p", { class: "lead", dir: "auto", text }), classNav(app, classId, ofView));
    },
  };
}

function classNav({ t }, id, view) {
  return h("nav", { class: "ways", "aria-label": t("room.ways") }, VIEWS.map((one) => h("a", {
    href: `#class/${id}${one && `/${one}`}`, "aria-current": one === view ? "page" : null,
  }, t(`room.way-${one || "board"}`))));
}

/** A section of a screen with its heading. */
export function part(title, ...children) {
  const id = freshId("part");
  return h("section", { class: "part", "aria-labelledby": id }, h("h2", { id, text: title }), children);
}

export const button = (text, click, kind = "") => h("button", { type: "button", class: `button ${kind}`, on: { click } }, text);

/**
 * An area for messages of success or failure; empty it takes no room.
 * @returns {{element, wrong: function(Error|string), good: function(string), clear: function}}
 */
export function messageArea(app) {
  const element = h("div", { class: "news-place" });
  const say = (text, kind) => {
    // What went well before is no news beside what goes wrong now.
    if (kind === "bad") for (const old of document.querySelectorAll(".news-place > .notice.good")) old.remove();
    fill(element, h("p", { class: `notice ${kind}`, text }));
    app.announce(text, kind === "bad");
  };
  return {
    element,
    wrong: (error) => say(typeof error === "string" ? error : problemText(app.t, error), "bad"),
    good: (text) => say(text, "good"),
    clear: () => fill(element),
  };
}

/**
 * A form with a submit button that is disabled while it sends.
 * @param {{text: string, kind?: string, fields: Array, send: function(): Promise, messages: object}} how
 */
export function form({ text, kind = "primary", fields, send, messages }) {
  const submit = h("button", { type: "submit", class: `button ${kind}` }, text);
  const element = h("form", {
    class: "form", novalidate: true,
    on: {
      submit: async (event) => {
        event.preventDefault();
        if (submit.disabled) return;
        submit.disabled = true;
        messages.clear();
        try {
          await send();
        } catch (error) {
          messages.wrong(error);
        } finally {
          submit.disabled = false;
        }
      },
    },
  }, fields, h("div", { class: "button-row" }, submit), messages.element);
  return element;
}

/** A dialog that is removed when it is closed, or when the screen changes. @returns {{element, close: function}} */
export function openDialog(title, ...children) {
  const id = freshId("dialog");
  const element = showDialog({ class: "sheetlet", "aria-labelledby": id }, [h("h2", { id, text: title }), children]);
  return { element, close: () => element.close() };
}

/**
 * Ask for confirmation before an action that cannot be undone.
 * @param {object} app
 * @param {{title: string, says: string, yes: string, act: function(): Promise}} how
 */
export function confirmAction(app, { title, says, yes, act }) {
  const messages = messageArea(app);
  const submit = button(yes, async () => {
    submit.disabled = true;
    try {
      await act();
      dialog.close();
    } catch (error) {
      messages.wrong(error);
      submit.disabled = false;
    }
  }, "danger");
  const dialog = openDialog(title, h("p", { text: says }), messages.element,
    h("div", { class: "button-row" }, submit, button(app.t("common.leave-it"), () => dialog.close())));
}

/** A secret that is shown this once: hidden until asked, since a projector may show it to a class. */
export function keyPanel(app, key, { label = app.t("key.label"), copyText = app.t("key.copy"), says = app.t("key.once") } = {}) {
  const { t } = app;
  const code = h("code", { class: "key", tabindex: "0", "aria-label": label, text: "•".repeat(12) });
  let shown = false;
  const show = button(t("key.show"), () => {
    shown = !shown;
    code.textContent = shown ? key : "•".repeat(12);
    show.textContent = t(shown ? "key.hide" : "key.show");
  });
  const copy = button(copyText, async () => {
    try {
      await navigator.clipboard.writeText(key);
      copy.textContent = t("key.copied");
      app.announce(t("key.copied"));
    } catch {
      // Without HTTPS there is no clipboard: the key is selected, to be copied by hand.
      if (!shown) show.click();
      getSelection().selectAllChildren(code);
      app.announce(t("key.marked"), true);
    }
  });
  return h("div", { class: "key-shown" }, code, h("div", { class: "button-row" }, show, copy), h("p", { class: "small", text: says }));
}

/**
 * Call a function repeatedly while the page is visible, and at once when it becomes visible.
 * @param {function(): Promise} refresh
 * @param {number} everyMs
 * @returns {{stop: function, now: function, every: function(number)}} `every(ms)` changes the interval
 */
export function poll(refresh, everyMs) {
  let paceMs = everyMs;
  let timer = 0;
  let over = false;
  let running = false;

  async function run() {
    clearTimeout(timer);
    if (over || running) return;
    running = true;
    if (document.visibilityState === "visible") await refresh();
    running = false;
    if (!over) timer = setTimeout(run, paceMs);
  }

  document.addEventListener("visibilitychange", run);
  run();
  return {
    now: run,
    every(ms) {
      paceMs = ms;
    },
    stop() {
      over = true;
      clearTimeout(timer);
      document.removeEventListener("visibilitychange", run);
    },
  };
}

/** Update a list in place: only lines whose item has changed are rebuilt, so nothing moves under a finger. */
export function keyedList(list, lineOf) {
  const lines = new Map();
  return (items) => {
    const ids = new Set(items.map(({ id }) => id));
    for (const [id, { element }] of lines) {
      if (ids.has(id)) continue;
      element.remove();
      lines.delete(id);
    }
    items.forEach((item, place) => {
      const key = JSON.stringify(item);
      const line = lines.get(item.id);
      if (line?.key !== key) {
        const element = lineOf(item);
        if (line) line.element.replaceWith(element);
        lines.set(item.id, { element, key });
      }
      const { element } = lines.get(item.id);
      if (list.children[place] !== element) list.insertBefore(element, list.children[place] ?? null);
    });
  };
}

/** A checkbox for a mark of a pack, such as printed. */
export function markBox(text, name, on, change) {
  const box = h("input", { type: "checkbox", checked: on, on: { change: () => change(box.checked) } });
  return h("label", { class: "mark-box" }, box, h("span", { text }), h("span", { class: "unseen", text: ` ${name}` }));
}

/** Titles of sheet formats by name. @returns {Map<string, string>} */
export function titlesOf(formats) {
  return new Map(formats.map((one) => [one.name, one.title]));
}
