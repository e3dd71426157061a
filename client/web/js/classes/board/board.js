// The board of a class at work: who has joined, who has sent a photo, which photos are too small
// for their paper, and the state of each pack. It is legible across a room, and refreshes itself.

import { supportText } from "../batch/estimate.js";
import * as classApi from "../../api/classes.js";
import { button, keyedList, markBox, messageArea, part, poll, classLayout } from "../parts.js";
import { joiningControls } from "./joining.js";
import { lostSheetPart, openSheetsOf } from "./lost-sheet.js";
import { openPhoto } from "./student-photo.js";
import { foundList } from "../found-list.js";
import { fill, h } from "../../lib/browser/dom.js";

const REFRESH_MS = 3000;
/** The counts above the list, each with the filter of its students. */
const COUNTS = {
  here: (one) => one.joined,
  photo: (one) => one.photo !== null,
  small: (one) => one.photo?.too_small === true,
  ready: (one) => one.pack?.state === "ready",
  printed: (one) => Boolean(one.pack?.printed_at),
  joined: (one) => Boolean(one.pack?.joined_at),
};

/** @returns {{unmount: function}} */
export function mount(root, app, { id }) {
  const { t } = app;
  const counts = h("div", { class: "counts" });
  const list = h("ul", { class: "board-list" });
  const show = keyedList(list, (one) => lineOf(app, one, {
    mark, photo: () => openPhoto(app, one, () => poller.now()), sheets: () => openSheetsOf(app, one.pack.id, one.name, messages),
  }));
  const finder = foundList(app, show);
  const empty = h("p", { hidden: true }, t("class.nobody"), " ", h("a", { href: `#class/${id}/roster` }, t("class.to-roster")));
  const messages = messageArea(app);
  const side = h("div", { class: "board-side" });
  const marks = h("div", { class: "button-row all-row", hidden: true },
    h("span", { class: "small", text: t("class.mark-printed") }),
    button(t("find.all"), () => markAll(true), "quiet"), button(t("find.none"), () => markAll(false), "quiet"));
  const { heading } = classLayout(root, app, { title: t("class.board"), id, main: [counts, messages.element, empty, finder.field, marks, list, finder.more], side: [side, lostSheetPart(app, id)], sideFirst: true });
  let only = null;
  let board = null;
  let sideKey = "";
  const poller = poll(refresh, REFRESH_MS);

  async function refresh() {
    try {
      const found = await classApi.board(id);
      if (board === null) messages.clear();
      board = found;
      draw();
    } catch (error) {
      messages.wrong(error);
      board = null;
    }
  }

  function draw() {
    const { class: group, students } = board;
    heading.textContent = group.name;
    document.title = `${group.name} · Ricalco`;
    const there = students.filter((one) => !one.withdrawn);
    drawCounts(there);
    empty.hidden = there.length > 0;
    finder.set(only ? there.filter(COUNTS[only]) : there);
    marks.hidden = ready().length < 2;
    drawSide(group);
  }

  /** Draw the counts as buttons: pressing one shows only the students that it counts. */
  function drawCounts(there) {
    if (counts.children.length === 0) {
      fill(counts, Object.keys(COUNTS).map((name) => h("button", {
        type: "button", class: `count count-${name}`, data: { name }, on: { click: () => filter(name) },
      }, h("span", { class: "figure" }), h("span", { class: "count-name", text: t(`class.count-${name}`) }))));
    }
    for (const one of counts.children) {
      const figure = there.filter(COUNTS[one.dataset.name]).length;
      one.querySelector(".figure").textContent = figure;
      one.classList.toggle("none", figure === 0);
      one.setAttribute("aria-pressed", String(one.dataset.name === only));
    }
  }

  function filter(name) {
    only = only === name ? null : name;
    draw();
  }

  function drawSide(group) {
    const key = JSON.stringify([group.join_code, group.join_url, group.joining_open, group.joining_until, group.closed]);
    if (key === sideKey) return;
    sideKey = key;
    fill(side, part(t("class.join-part"),
      h("p", { class: "code-shown", text: group.join_code }),
      joiningControls(app, group, change),
      group.closed && h("p", { class: "notice bad", text: t("class.is-over") }),
      isLoopback(group.join_url) && h("p", { class: "notice", text: t("class.alone") }),
      h("div", { class: "button-row" }, h("a", { class: "button", href: `#class/${id}/code` }, t("class.show-code")))));
  }

  async function change(changes) {
    try {
      await classApi.changeClass(id, changes);
      messages.clear();
    } catch (error) {
      messages.wrong(error);
    }
    sideKey = "";
    poller.now();
  }

  async function mark(pack, marks) {
    try {
      await classApi.markPack(pack.id, marks);
    } catch (error) {
      messages.wrong(error);
    }
    poller.now();
  }

  /** The students who were found and have a pack to print. */
  function ready() {
    return finder.found().filter((one) => one.pack?.state === "ready");
  }

  /** Mark the packs of all who were found, or take their marks off. */
  async function markAll(printed) {
    try {
      for (const { pack } of ready()) {
        if (Boolean(pack.printed_at) !== printed) await classApi.markPack(pack.id, { printed });
      }
    } catch (error) {
      messages.wrong(error);
    }
    poller.now();
  }

  return { unmount: poller.stop };
}

/** Whether only this machine can open an address. */
export function isLoopback(address) {
  return ["127.0.0.1", "localhost", "[::1]"].includes(new URL(address).hostname);
}

/** @param {{mark: function(object, object), photo: function(), sheets: function()}} does */
function lineOf(app, one, does) {
  const { t } = app;
  const { photo, pack } = one;
  return h("li", { class: "board-line" },
    h("button", {
      type: "button", class: photo ? "board-photo" : "board-photo none", "aria-haspopup": "dialog",
      "aria-label": t(photo ? "class.photo-of" : "class.photo-send-for", { name: one.name }), on: { click: does.photo },
    }, photo ? h("img", { src: photo.preview, alt: "", loading: "lazy", width: 56, height: 56 }) : "+"),
    h("div", {},
      h("h3", { class: "board-name", dir: "auto", text: one.name }),
      h("p", { class: "small" }, states(app, one).map(([kind, text]) => h("span", { class: `state ${kind}`, text })))),
    pack && h("div", { class: "board-marks" },
      ["printed", "joined"].map((name) => markBox(t(`class.mark-${name}`), one.name, Boolean(pack[`${name}_at`]), (on) => does.mark(pack, { [name]: on }))),
      pack.state === "ready" && h("a", { class: "button quiet", href: `/v1/packs/${pack.id}/pack.pdf`, download: true, "aria-label": t("class.fetch-of", { name: one.name }) }, t("class.fetch")),
      pack.state === "ready" && h("button", {
        type: "button", class: "button quiet", "aria-haspopup": "dialog", "aria-label": t("sheet-again.for", { name: one.name }), on: { click: does.sheets },
      }, t("sheet-again.one"))));
}

/** The states of a student, in a few words each. */
function states(app, { joined, photo, pack }) {
  const { t } = app;
  const states = [[joined ? "fine" : "off", t(joined ? "class.here" : "class.not-here")], photoState(app, photo)];
  if (photo?.blurred) states.push(["warn", t("batch.warning.reference-blurred")]);
  if (pack) states.push(packState(t, pack));
  return states;
}

/** The state of the photo; whether it is large enough is known only with a support. */
function photoState(app, photo) {
  const { t } = app;
  if (!photo) return ["off", t("class.no-photo")];
  if (photo.too_small === null) return ["off", t("class.photo-uncompared")];
  const size = supportText(app, photo.compared_with);
  if (photo.too_small) return ["warn", t("class.too-small", { size, mm: t.number(photo.finest_line_mm, 1) })];
  return ["fine", t("class.has-photo", { size })];
}

function packState(t, pack) {
  const { done, total } = pack.progress;
  if (pack.state === "making") return ["fine", t("class.pack-making", { done, total })];
  const kinds = { ready: "fine", failed: "warn" };
  return [kinds[pack.state] ?? "off", t(`class.pack-${pack.state}`, { count: pack.sheets })];
}
