// Starts the page and leads from step to step. Screens are loaded when they are first gone to,
// so that the first one is there at once on a slow line.

import * as api from "./api.js";
import { fill, h } from "./dom.js";
import { settingsButton } from "./settings.js";
import { createStore, protectOf } from "./state.js";
import { loadWords } from "./words.js";

const STEPS = ["photo", "paper", "frame", "sheets", "pack", "studio"];
/** Steps that mean nothing before there is a photo. */
const NEED_PHOTO = new Set(["frame", "sheets"]);

const store = createStore(openStorage(), navigator.language || "en");
const main = document.getElementById("screen");
let words = null;
let current = { step: "", screen: null };
let turn = 0;

const app = {
  get state() {
    return store.state;
  },
  /** The texts; see words.js. */
  get t() {
    return words;
  },
  update: store.update,
  subscribe: store.subscribe,
  /** Go to a step. */
  go(step) {
    location.hash = `#${step}`;
  },
  /** Say something to those who listen to the page; `urgent` interrupts. */
  announce(text, urgent = false) {
    document.getElementById(urgent ? "urgent" : "polite").textContent = text;
  },
};

function openStorage() {
  try {
    return window.localStorage;
  } catch {
    return null;
  }
}

function stepOfHash() {
  const asked = location.hash.slice(1);
  if (!STEPS.includes(asked)) return "photo";
  return NEED_PHOTO.has(asked) && !store.state.photo ? "photo" : asked;
}

async function showStep({ focus }) {
  const step = stepOfHash();
  turn += 1;
  const mine = turn;
  const module = await import(`./${step}.js`);
  if (mine !== turn) return;
  current.screen?.unmount();
  // From here on the areas are edited as they lie on this picture.
  if (step === "sheets") store.update({ sheets: { protect: protectOf(store.state) } });
  drawBar(step);
  document.title = `${words(`step.${step}`)} · Ricalco`;
  current = { step, screen: module.mount(main, app) };
  window.scrollTo(0, 0);
  if (focus) main.querySelector("h1")?.focus({ preventScroll: true });
}

function drawBar(step) {
  const links = STEPS.map((name, index) => h("li", {},
    h("a", { href: `#${name}`, "aria-current": name === step ? "step" : null, class: done(name) ? "done" : "" },
      h("span", { class: "step-number", "aria-hidden": "true", text: index + 1 }),
      h("span", { class: "step-name", text: words(`step.${name}`) }))));
  fill(document.getElementById("bar"),
    h("a", { class: "mark", href: "#photo", "aria-label": words("app.home") }, "Ricalco"),
    h("nav", { "aria-label": words("app.steps") }, h("ol", { class: "steps" }, links)),
    settingsButton(app));
}

function done(step) {
  const { photo, pack } = store.state;
  return { photo: photo !== null, pack: pack?.state === "ready" }[step] ?? false;
}

function wear(theme) {
  if (theme === "auto") delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = theme;
  const dark = theme === "dark" || (theme === "auto" && matchMedia("(prefers-color-scheme: dark)").matches);
  document.querySelector("meta[name=theme-color]").content = dark ? "#1F1E1C" : "#F6F2EA";
}

async function speak(language) {
  words = await loadWords(language);
  document.documentElement.lang = language;
  document.getElementById("skip").textContent = words("app.skip");
}

/** A photo that the service no longer has is forgotten here too. */
async function checkPhoto() {
  const { photo } = store.state;
  if (!photo) return;
  try {
    await api.reference(photo.referenceId);
  } catch (error) {
    if (error.status !== 404 || store.state.photo?.referenceId !== photo.referenceId) return;
    store.update({ photo: null });
    app.announce(words("photo.gone"), true);
    if (NEED_PHOTO.has(current.step)) app.go("photo");
    else showStep({ focus: false });
  }
}

async function start() {
  wear(store.state.theme);
  await speak(store.state.language);
  await showStep({ focus: false });
  document.documentElement.dataset.ready = "true";
  checkPhoto();
}

store.subscribe(async (state, before) => {
  if (state.theme !== before.theme) wear(state.theme);
  if (state.language !== before.language) {
    await speak(state.language);
    await showStep({ focus: false });
  }
});
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => wear(store.state.theme));
window.addEventListener("hashchange", () => showStep({ focus: true }));
window.addEventListener("pagehide", store.save);
document.getElementById("skip").addEventListener("click", (event) => {
  // The hash belongs to the steps; the link only moves the focus.
  event.preventDefault();
  main.focus();
});
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/sw.js").catch(() => {});
start();
