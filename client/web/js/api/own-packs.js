// The person's packs at the service, page by page. The first page is asked for when the page
// starts, since it decides on the first screen; the shelf then shows it without asking again.

import { fetchOk } from "./service.js";

/** As many as fill some screens; whoever has a thousand gets more at a time from then on. */
const FIRST = "/v1/me/packs?limit=24";
const LATER = 100;
/** A silent connection is not waited for longer. */
const TIMEOUT_MS = 3000;
let asked = null;

/** A page of packs, newest first. @returns {Promise<{items: Array<object>, next: string|null}>} */
export async function packsPage(path = FIRST) {
  const answer = await fetchOk(path);
  const { items } = await answer.json();
  const next = answer.headers.get("Link")?.match(/<([^>]+)>; *rel="next"/)?.[1] ?? null;
  return { items, next: next?.replace(/\blimit=\d+/, `limit=${LATER}`) ?? null };
}

/** The first page, as it was asked for at the start, the first time. */
export function firstPage() {
  const page = asked ?? packsPage();
  asked = null;
  return page;
}

/** Packs by the number on their sheets. @returns {Promise<Array<object>>} */
export async function packsOfNumber(number) {
  return (await packsPage(`/v1/me/packs?number=${encodeURIComponent(number)}`)).items;
}

/** Whether the person has packs; false where the service does not say so soon. */
export async function hasPacks() {
  asked = packsPage();
  const { items } = await Promise.race([asked, silence()]).catch(() => {
    asked = null;
    return { items: [] };
  });
  return items.length > 0;
}

function silence() {
  return new Promise((_, reject) => {
    setTimeout(() => reject(new Error("silent")), TIMEOUT_MS);
  });
}
