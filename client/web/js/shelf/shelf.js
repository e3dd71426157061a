// My pictures: the packs that the service has of the person, and the jobs that this device has in
// work. It is the first screen of whoever has one.

import { isDeleted } from "../api/deletions.js";
import { keptDocuments, reachable } from "../api/offline-cache.js";
import { firstPage, packsPage } from "../api/own-packs.js";
import { personFoot } from "../controls/screen/person-links.js";
import { fill, h } from "../lib/browser/dom.js";
import { problemText } from "../lib/texts/words.js";
import { another, allPictures } from "../state/pictures.js";
import { referenceOf } from "../state/from-pack.js";
import { jobCard, packCard } from "./card.js";
import { askForLostSheet } from "./lost-sheet.js";

const POLL_MS = 2000;
const UNDER_WAY = new Set(["queued", "making"]);

/** @returns {{unmount: function}} */
export function mount(root, app) {
  const { t } = app;
  const messages = h("div", { class: "shelf-news" });
  const list = h("ul", { class: "shelf" });
  const more = h("button", { type: "button", class: "button", hidden: true, on: { click: older } }, t("shelf.older"));
  const empty = h("p", { class: "lead", hidden: true, text: t("shelf.empty") });
  const lost = h("button", { type: "button", class: "button quiet flush", hidden: true, on: { click: () => askForLostSheet(app) } }, t("shelf.lost"));
  let packs = [];
  let next = null;
  let timer = 0;
  let over = false;
  let offline = false;

  fill(root, h("div", { class: "plate shelf-plate" },
    h("div", { class: "plate-head" }, h("h1", { tabindex: "-1", text: t("common.shelf") })),
    h("div", { class: "shelf-head" },
      h("button", { type: "button", class: "button primary shelf-new", on: { click: begin } }, t("shelf.new")), lost),
    h("div", { class: "plate-controls" }, messages, empty, list, h("div", { class: "button-row" }, more), personFoot(app))));

  function draw() {
    const { state } = app;
    const shown = packs.filter((one) => !isDeleted(state, one.id, referenceOf(one)));
    const known = new Set(packs.map(({ id }) => id));
    // What this device has made, and the list does not have yet, is a card of its own.
    const jobs = allPictures(state).filter(({ pack, photo }) => photo && !known.has(pack?.id) && !(offline && pack));
    const cards = [
      ...jobs.map((one) => ({ at: one.begunAt, make: () => jobCard(app, one), key: ["job", one, state.paper.unit] })),
      ...shown.map((one) => ({ at: Date.parse(one.created_at), make: () => packCard(app, one), key: ["pack", one, state.checklist[one.id], state.paper.unit] })),
    ].sort((one, other) => other.at - one.at);
    drawCards(cards);
    empty.hidden = cards.length > 0 || offline;
    more.hidden = next === null;
    lost.hidden = !packs.some(({ state: made }) => made === "ready");
  }

  const drawn = new Map();

  /** Only cards that have changed are drawn again, so that nothing moves under a finger. */
  function drawCards(cards) {
    const names = cards.map(({ key }) => JSON.stringify(key));
    const there = new Set(names);
    for (const [name, element] of drawn) {
      if (there.has(name)) continue;
      element.remove();
      drawn.delete(name);
    }
    // What stays is not put in anew: of a thousand cards, a page more would lay out all of them.
    let before = list.firstElementChild;
    names.forEach((name, place) => {
      if (!drawn.has(name)) drawn.set(name, cards[place].make());
      const element = drawn.get(name);
      if (element === before) before = before.nextElementSibling;
      else list.insertBefore(element, before);
    });
  }

  async function load() {
    clearTimeout(timer);
    try {
      const page = await firstPage();
      if (over) return;
      const older = packs.slice(page.items.length);
      const fresh = new Set(page.items.map(({ id }) => id));
      const isFirst = packs.length === 0 || offline;
      packs = isFirst ? page.items : [...page.items, ...older.filter(({ id }) => !fresh.has(id))];
      if (isFirst || page.next === null) next = page.next;
      offline = false;
      fill(messages);
    } catch (error) {
      if (over) return;
      await showLost(error);
    }
    draw();
    if (packs.some(({ state }) => UNDER_WAY.has(state)) && !offline) timer = setTimeout(again, POLL_MS);
  }

  function again() {
    if (document.visibilityState === "visible") load();
    else timer = setTimeout(again, POLL_MS);
  }

  /** Without a network, the packs that are kept on this device can be opened. */
  async function showLost(error) {
    if (error.code === "offline") {
      offline = true;
      next = null;
      packs = (await keptDocuments()).map((one) => ({ ...one, sheets: one.plan?.sheet_count ?? 0 }));
      fill(messages, h("p", { class: "notice", text: t(packs.length ? "shelf.offline" : "shelf.offline-none") }));
    } else fill(messages, h("p", { class: "notice bad", text: problemText(t, error) }));
  }

  async function older() {
    try {
      const page = await packsPage(next);
      const first = packs.length;
      packs = [...packs, ...page.items];
      next = page.next;
      draw();
      list.children[first]?.querySelector("button, a")?.focus({ preventScroll: true });
    } catch (error) {
      fill(messages, h("p", { class: "notice bad", text: problemText(t, error) }));
      app.announce(problemText(t, error), true);
    }
  }

  function begin() {
    app.update(another(app.state));
    app.go("photo");
  }

  async function onLine() {
    if (offline && await reachable()) load();
  }

  const stop = app.subscribe((state, before) => {
    if (state.deleting !== before.deleting || state.pictures !== before.pictures || state.pictureId !== before.pictureId) draw();
  });
  window.addEventListener("online", onLine);
  draw();
  empty.hidden = true;
  load();
  return {
    unmount() {
      over = true;
      clearTimeout(timer);
      stop();
      window.removeEventListener("online", onLine);
    },
  };
}
