// Starts the page in the frame of a course page: has a session handed over, sees that it is meant
// for this frame, and only then loads the page.

import { enterFrame } from "../api/access.js";
import { loadLanguages, loadWords, nearestLanguage } from "../lib/texts/words.js";
import { saveLinkedFiles } from "./files.js";
import { launchPage, takeLaunch } from "./launched.js";
import { cover } from "./notice.js";
import { parentPage, reportHeight } from "./parent.js";
import { frameSession } from "./session.js";

const asked = new URLSearchParams(location.search);
const launch = takeLaunch();
const site = launch?.site ?? asked.get("site") ?? "";
const stated = asked.get("origin") ?? "";
const device = navigator.language || "en";
const languages = await loadLanguages();
/** The course page's language, where there are texts in it; else the device's. */
const wanted = launch?.language ?? asked.get("language") ?? device;
const spoken = nearestLanguage(languages, wanted);
const known = wanted.toLowerCase().startsWith(spoken.toLowerCase());
const language = !known || device.startsWith(spoken) ? device : spoken;
/** Texts that only a frame needs. */
const SUBJECTS = ["embed"];
let personId = null;
let refused = false;
let mayDelete = false;

const texts = () => loadWords(nearestLanguage(languages, language), SUBJECTS);

/**
 * How long a token is valid, if it is for this site, this page, and the student who was here
 * before. The clocks of service and device may differ: both ends of the time are the service's.
 * @returns {Promise<number>} in milliseconds; 0: it is for others
 */
async function inspect(token) {
  const answer = await fetch("/v1/me", { headers: { Authorization: `Bearer ${token}` }, credentials: "omit" });
  if (!answer.ok) return 0;
  const { person, session } = await answer.json();
  if (session?.site_id !== site || session.origin !== stated) {
    refused = true;
    return 0;
  }
  // Another student has come to the course page: nothing of the one before may stay.
  if (personId !== null && personId !== person.id) {
    location.reload();
    return 0;
  }
  personId = person.id;
  mayDelete = session.scopes.includes("delete-packs");
  return Date.parse(session.ends_at) - Date.parse(answer.headers.get("Date"));
}

async function start() {
  if (!launch && (window.parent === window || !stated)) {
    cover(await texts(), "alone", null);
    return;
  }
  const page = launch ? launchPage(launch) : parentPage(window.parent, stated);
  const session = frameSession({ requestToken: page.requestToken, inspect, onEnd });
  reportHeight(page.tell);
  if (await session.renew()) await open();
  else cover(await texts(), refused ? "refused" : "ended", async () => await session.renew() && open());

  /** Load the page. */
  async function open() {
    enterFrame({
      ...session, language, subjects: SUBJECTS, storageKey: `ricalco.frame.${site}`, viewPx: page.viewPx,
      mayDelete: () => mayDelete, stepShown: () => page.tell({ ricalco: "step" }),
    });
    saveLinkedFiles(async (key) => {
      document.getElementById("polite").textContent = (await texts())(key);
    });
    await import("../app.js");
    return true;
  }

  async function onEnd() {
    cover(await texts(), "ended", async () => {
      const renewed = await session.renew();
      // The screen asks anew for what it could not get.
      if (renewed) window.dispatchEvent(new Event("hashchange"));
      return renewed;
    });
  }
}

start();
