// The class code for a projector: as large as the screen allows, with its QR code and nothing
// private. A button makes it full screen.

import * as classApi from "../../api/classes.js";
import { isLoopback } from "./board.js";
import { button, messageArea, poll } from "../parts.js";
import { joiningControls } from "./joining.js";
import { fill, h } from "../../lib/browser/dom.js";

const REFRESH_MS = 4000;

/** @returns {{unmount: function}} */
export function mount(root, app, { id }) {
  const { t } = app;
  const messages = messageArea(app);
  const code = h("p", { class: "board-code" });
  const where = h("p", { class: "board-where" });
  const here = h("p", { class: "board-here", role: "status" });
  const title = h("h1", { tabindex: "-1", dir: "auto" });
  const note = h("div", { class: "stack board-note" });
  const picture = h("div", { class: "board-qr" }, h("img", { src: classApi.joinPicture(id), alt: t("class.qr"), width: 300, height: 300 }));
  const whole = document.documentElement.requestFullscreen && button(t("class.whole"), fillScreen);
  let shownNote = null;
  const screen = h("div", { class: "projector" },
    h("div", { class: "projector-words" }, title, h("p", { class: "projector-lead", text: t("class.how-to-join") }), code, where, here, note, messages.element),
    picture,
    h("div", { class: "projector-foot button-row" }, h("a", { class: "button", href: `#class/${id}` }, t("class.to-board")), whole));
  fill(root, screen);
  const poller = poll(refresh, REFRESH_MS);

  async function refresh() {
    try {
      const { class: group, students } = await classApi.board(id);
      title.textContent = group.name;
      document.title = `${group.name} · Ricalco`;
      code.textContent = group.join_code;
      where.textContent = new URL(group.join_url).host;
      here.hidden = students.length === 0;
      here.textContent = t("class.here-of", { here: students.filter((one) => one.joined).length, all: students.length });
      showCode(group);
      messages.clear();
    } catch (error) {
      messages.wrong(error);
    }
  }

  function showCode(group) {
    const key = group.joining_open ? (isLoopback(group.join_url) ? "class.alone" : "") : "class.shut-note";
    if (key === shownNote) return;
    shownNote = key;
    fill(note, key && h("p", { class: "notice bad", text: t(key) }),
      !group.joining_open && joiningControls(app, group, async (changes) => {
        await classApi.changeClass(id, changes).catch(messages.wrong);
        poller.now();
      }));
  }

  async function fillScreen() {
    try {
      if (document.fullscreenElement) await document.exitFullscreen();
      else await screen.requestFullscreen();
    } catch {
      // A browser without full screen shows the code in its window.
    }
  }

  return {
    unmount() {
      poller.stop();
      if (document.fullscreenElement) document.exitFullscreen();
    },
  };
}
