// Starts the page and shows the screen of the address. The module of a screen is loaded when it
// is first opened, so that the first screen appears soon on a slow connection.

import { createDeletions } from "./api/deletions.js";
import { hasPacks } from "./api/own-packs.js";
import * as api from "./api/service.js";
import { frame } from "./api/access.js";
import { fill, h } from "./lib/browser/dom.js";
import { dropExpired, reachable } from "./api/offline-cache.js";
import { screenLayout } from "./controls/screen/layout.js";
import { fetchPerson, applyPerson, reportSignOut } from "./api/person.js";
import { askForFaces } from "./api/photo-faces.js";
import { undoBar } from "./controls/screen/undo-bar.js";
import { redirectFor, NEED_PHOTO, PARENT_STEP, routeOf, STEPS } from "./lib/browser/routes.js";
import { settingsButton } from "./controls/screen/language-theme.js";
import { allPictures, without } from "./state/pictures.js";
import { needStyles } from "./lib/browser/style-sheets.js";
import { stepBar } from "./controls/screen/step-bar.js";
import { createStore, protectOf } from "./state/state.js";
import { loadLanguages, loadWords, nearestLanguage, problemText } from "./lib/texts/words.js";

const languages = await loadLanguages();
const store = createStore(openStorage(), frame?.language || navigator.language || "en", frame?.storageKey, languages);
const main = document.getElementById("screen");
let words = null;
let person = null;
let current = { step: "", words: [], screen: null };
let navigations = 0;
/** Where an address without a screen leads: to the shelf of whoever has pictures, else to the photo. */
let home = "photo";

const app = {
  get state() {
    return store.state;
  },
  /** Tags of the languages that there are texts in. */
  languages,
  /** The texts; see lib/texts/words.js. */
  get t() {
    return words;
  },
  /** The person who uses this device; see api/person.js. */
  get person() {
    return person;
  },
  /** Ask the service who uses this device now, and continue with that person at `step`. */
  async switchPerson(step) {
    person = await fetchPerson(app);
    await applyPerson(app, person);
    if (location.hash === `#${step}`) await showStep({ focus: true });
    else app.go(step);
  },
  /** Whether this person has pictures, here or at the service. */
  get hasPictures() {
    return home === "shelf" || allPictures(store.state).length > 0;
  },
  /** The screen to begin with: the shelf of whoever has pictures, else the photo. */
  async firstScreen() {
    home = allPictures(store.state).length > 0 || await hasPacks() ? "shelf" : "photo";
    return home;
  },
  /** Deleting that can be undone; see api/deletions.js. */
  get deletions() {
    return deletions;
  },
  update: store.update,
  subscribe: store.subscribe,
  /** Go to a step. */
  go(step) {
    location.hash = `#${step}`;
  },
  /** Announce a text to screen readers; `urgent` interrupts. */
  announce(text, urgent = false) {
    document.getElementById(urgent ? "urgent" : "polite").textContent = text;
  },
};

const showUndo = undoBar(app, (path) => {
  deletions.undo(path);
  showStep({ focus: true });
});
const deletions = createDeletions({
  store,
  show: showUndo,
  refused(entry, error) {
    app.announce(problemText(words, error), true);
    showStep({ focus: false });
  },
});

function openStorage() {
  try {
    return window.localStorage;
  } catch {
    return null;
  }
}

function routeNow() {
  const asked = routeOf(location.hash.length > 1 ? location.hash : `#${home}`);
  const other = redirectFor(asked, person, store.state.photo !== null);
  return other ? routeOf(`#${other}`) : asked;
}

async function showStep({ focus }) {
  const route = routeNow();
  const step = route.name;
  navigations += 1;
  const navigation = navigations;
  const [module] = await Promise.all([
    import(`./${route.module}.js`), words.need(route.words), needStyles(route.styles),
  ]).catch(() => [null]);
  if (navigation !== navigations) return;
  current.screen?.unmount();
  const { photo } = store.state;
  if (photo && STEPS.includes(step) && step !== "photo" && step !== "studio") store.update({ step });
  // From here on the areas are edited relative to the current frame.
  if (step === "sheets") store.update({ sheets: { protect: protectOf(store.state) } });
  noteReached(step);
  drawBar(PARENT_STEP[step] ?? step);
  current = { step, words: route.words, screen: (module ?? unloadedScreen).mount(main, app, route) };
  titleOf(step);
  window.scrollTo(0, 0);
  frame?.stepShown();
  if (focus) main.querySelector("h1")?.focus({ preventScroll: true });
}

/** How far the person has come with this photo: the steps before that are ticked. */
function noteReached(step) {
  const { photo, reached } = store.state;
  if (photo && STEPS.indexOf(step) > reached) store.update({ reached: STEPS.indexOf(step) });
}

/** Shown when the module of a screen could not be loaded, so that a lost connection is visible. */
const unloadedScreen = {
  mount() {
    const again = h("button", { type: "button", class: "button primary", on: { click: reloadWhenReachable } }, words("app.again"));
    screenLayout(main, {
      title: words("app.unloaded"), controls: [h("div", { class: "notice bad" }, h("p", { text: words("problem.offline") }))],
      actions: [again],
    });
    app.announce(words("problem.offline"), true);
    return { unmount() {} };
  },
};

/** Reload the page: a browser may not request a module again after it failed to load. */
async function reloadWhenReachable() {
  if (await reachable()) location.reload();
  else app.announce(words("problem.offline"), true);
}

/** Set the document's title: the step's name, or the heading of another screen. */
function titleOf(step) {
  const title = STEPS.includes(step) ? words(`step.${step}`) : main.querySelector("h1")?.textContent;
  document.title = title ? `${title} · Ricalco` : "Ricalco";
}

function drawBar(step) {
  const bar = document.getElementById("bar");
  bar.classList.toggle("bar-plain", !STEPS.includes(step));
  if (STEPS.includes(step)) fill(bar, stepBar(app, step));
  else drawPlain(bar, step);
}

/** The bar of screens that are no step: home, the person's links, and the settings. */
function drawPlain(bar, step) {
  // The screens of a class and a batch belong to the list of classes.
  const here = { class: "classes", batch: "classes" }[step];
  const current = (to) => (to === step ? "page" : to === here && "true");
  const link = (to, key) => h("a", { class: "bar-link", href: `#${to}`, "aria-current": current(to) || null }, words(key));
  const links = {
    tutor: [link("classes", "common.classes"), link("shelf", "common.shelf"), link("me", "person.own")],
    student: [link("shelf", "common.shelf"), link("me", "person.own")],
    local: [link("shelf", "common.shelf"), link("me", "person.own")],
  }[person.role] ?? [];
  fill(bar, h("a", { class: "mark", href: "#shelf", "aria-label": words("app.home") }, "Ricalco"),
    links.length > 0 && h("nav", { class: "bar-links", "aria-label": words("person.nav") }, links),
    settingsButton(app));
}

function applyTheme(theme) {
  if (theme === "auto") delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = theme;
  const dark = theme === "dark" || (theme === "auto" && matchMedia("(prefers-color-scheme: dark)").matches);
  document.querySelector("meta[name=theme-color]").content = dark ? "#1F1E1C" : "#F6F2EA";
}

async function loadLanguage(wanted) {
  // What this device has kept may be gone since.
  const language = nearestLanguage(languages, wanted);
  words = await loadWords(language, [...frame?.subjects ?? [], ...current.words]);
  document.documentElement.lang = language;
  document.getElementById("skip").textContent = words("app.skip");
}

/** Remove a photo from the state that the service no longer has. */
async function checkPhoto() {
  const { photo } = store.state;
  if (!photo) return;
  try {
    await api.reference(photo.referenceId);
  } catch (error) {
    if (![403, 404].includes(error.status) || store.state.photo?.referenceId !== photo.referenceId) return;
    store.update(without(store.state, new Set([store.state.pictureId])));
    app.announce(words("photo.gone"), true);
    if (NEED_PHOTO.has(current.step)) app.go("photo");
    else showStep({ focus: false });
  }
}

async function start() {
  applyTheme(store.state.theme);
  await dropExpired();
  [person] = await Promise.all([fetchPerson(app), loadLanguage(store.state.language)]);
  await applyPerson(app, person);
  if (location.hash.length <= 1 && person.role !== "none") await app.firstScreen();
  await showStep({ focus: false });
  deletions.start();
  document.documentElement.dataset.ready = "true";
  checkPhoto();
  askForFaces(store);
}

store.subscribe(async (state, before) => {
  if (state.theme !== before.theme) applyTheme(state.theme);
  if (state.language !== before.language) {
    await loadLanguage(state.language);
    await showStep({ focus: false });
  }
});
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => applyTheme(store.state.theme));
window.addEventListener("hashchange", () => showStep({ focus: true }));
window.addEventListener(api.KEY_LOST, () => {
  // The key was withdrawn: the person has to join again or sign in.
  if (!frame && person && person.role !== "none") app.switchPerson("join");
});
window.addEventListener("pagehide", store.save);
window.addEventListener("online", () => reportSignOut(app));
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") dropExpired();
});
document.getElementById("skip").addEventListener("click", (event) => {
  // The hash is the address of a screen; the link only moves the focus.
  event.preventDefault();
  main.focus();
});
if (!frame && "serviceWorker" in navigator) navigator.serviceWorker.register("/sw.js").catch(() => {});
start();
