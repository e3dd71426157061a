// Requests to the service: JSON by fetch, the photo by XMLHttpRequest (fetch has no upload
// progress), a pack's progress by server-sent events, with polling as the fallback. Every failure
// is a Problem with the service's stable code.

import { frame, send } from "./access.js";

const POLL_EVERY_MS = 1500;
/** Attempts, and the pause between them, while the service still works on the first request. */
const IN_PROGRESS_TRIES = 30;
const IN_PROGRESS_WAIT_MS = 1000;
/** How often a full queue is asked again before the refusal is shown, and how long at first. */
const FULL_TRIES = 6;
const FULL_WAIT_S = 30;

/** Event on `window`: the service rejected the key. */
export const KEY_LOST = "ricalco:key-lost";

/** A refusal by the service, or no answer at all (`code` is then `offline`). */
class Problem extends Error {
  /** @param {{code: string, detail?: string, field?: string, status?: number, readable_share?: number}} document */
  constructor({ code, detail = "", field = null, fields = {}, status = 0, retryAfterS = 0, readable_share: readableShare = 0 }) {
    super(detail || code);
    Object.assign(this, { name: "Problem", code, detail, field, fields, status, retryAfterS, readableShare });
  }

  /** Whether the same request may work when it is sent again. */
  get passing() {
    return this.code === "offline" || this.status === 429 || this.status >= 500;
  }
}

/**
 * Request a path. A rejected key is announced by the event KEY_LOST.
 * @returns {Promise<Response>} a successful answer; throws a Problem otherwise
 */
export async function fetchOk(path, options = {}) {
  let answer;
  try {
    answer = await send(path, options);
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Problem({ code: "offline" });
  }
  if (path === "/v1/sign-in" || answer.status === 401) last = null;
  if (answer.ok || answer.status === 304) return answer;
  if (answer.status === 401 && path !== "/v1/sign-in") window.dispatchEvent(new Event(KEY_LOST));
  throw problemOf(answer.status, await answer.text(), Number(answer.headers.get("Retry-After")) || 0);
}

/**
 * Request JSON.
 * @returns {Promise<object|null>} null for an empty answer (204)
 */
export async function ask(path, options = {}) {
  const answer = await fetchOk(path, options);
  return answer.status === 204 ? null : answer.json();
}

/** The document that was asked for again last, with its path and entity tag. */
let last = null;

/**
 * Request JSON that is polled: with the tag of what is known, an unchanged document is answered
 * without its body.
 * @returns {Promise<object>}
 */
export async function askAgain(path, options = {}) {
  const known = last?.path === path ? last : null;
  const answer = await fetchOk(path, known ? { ...options, headers: { "If-None-Match": known.tag } } : options);
  if (answer.status === 304) return known.document;
  const document = await answer.json();
  last = { path, document, tag: answer.headers.get("ETag") ?? "" };
  return document;
}

/** Request all pages of a list, which their Link headers join (RFC 8288). @returns {Promise<{items: Array}>} */
export async function askAll(path) {
  const items = [];
  for (let next = path; next;) {
    const answer = await fetchOk(next);
    items.push(...(await answer.json()).items);
    next = answer.headers.get("Link")?.match(/<([^>]+)>; *rel="next"/)?.[1];
  }
  return { items };
}

function problemOf(status, text, retryAfterS = 0) {
  try {
    return new Problem({ code: "unknown", ...JSON.parse(text), status, retryAfterS });
  } catch {
    return new Problem({ code: "unknown", status });
  }
}

export const asJson = (body, { signal, key, method = "POST" } = {}) => ({
  method,
  headers: { "Content-Type": "application/json", ...(key ? { "Idempotency-Key": key } : {}) },
  body: JSON.stringify(body),
  signal,
});

/** POST JSON; the same idempotency `key` never does it twice. */
export const post = (path, body, how) => ask(path, asJson(body, how));
/** PATCH JSON: the changed fields. */
export const patch = (path, body) => ask(path, asJson(body, { method: "PATCH" }));
export const put = (path, body) => ask(path, asJson(body, { method: "PUT" }));

const known = new Map();

function fetchOnce(path) {
  if (!known.has(path)) {
    known.set(path, ask(path).then((page) => page.items, (error) => {
      known.delete(path);
      throw error;
    }));
  }
  return known.get(path);
}

/** Supports by trade name. */
export const supports = () => fetchOnce("/v1/supports");
/** Sheets by PWG name. */
export const sheetFormats = () => fetchOnce("/v1/sheet-formats");
/** A photo that the service has. */
export const reference = (id) => ask(`/v1/references/${id}`);
/** Delete a photo and everything made from it. */
export const deleteReference = (id) => ask(`/v1/references/${id}`, { method: "DELETE" });
/** The plan of a spec; nothing is stored. */
export const plan = (referenceId, spec, signal) => post("/v1/plans", { reference_id: referenceId, spec }, { signal });
/**
 * The picture as it will be printed, or a part of it as it will be on paper; nothing is stored.
 * @returns {Promise<{blob: Blob, thresholds: number[]|null, tones: number[]|null}>} boundaries and greys of the tones, for values only
 */
export async function preview(referenceId, spec, widthPx, signal, partMm = null) {
  const body = { reference_id: referenceId, spec, width_px: widthPx, ...(partMm ? { part_mm: partMm } : {}) };
  const answer = await fetchOk("/v1/previews", asJson(body, { signal }));
  const numbers = (name) => answer.headers.get(name)?.split(",").map(Number) ?? null;
  return { blob: await answer.blob(), thresholds: numbers("Ricalco-Thresholds"), tones: numbers("Ricalco-Tones") };
}
/** Square up a photo by its four corners; the answer is a new photo. */
export const squareUp = (id, corners, proportion, key) => post(
  `/v1/references/${id}/squared`, { corners, proportion }, { key },
);
/**
 * Ask again for what a full queue refuses, as long as it says; nothing is made twice, since the
 * key stays the same.
 * @param {function(Problem)} onWait called with each refusal that is waited for
 */
export async function untilTaken(path, body, key, onWait) {
  for (let tries = 1; ; tries += 1) {
    try {
      return await post(path, body, { key });
    } catch (error) {
      if (error.code !== "queue-full") throw error;
      if (tries >= FULL_TRIES) throw new Problem({ code: "busy", detail: error.detail, status: error.status });
      onWait(error);
      await new Promise((resolve) => { setTimeout(resolve, 1000 * (error.retryAfterS || FULL_WAIT_S)); });
    }
  }
}
/** Create a pack; the same key never makes two. */
export const createPack = (referenceId, spec, title, key, onWait) => untilTaken(
  "/v1/packs", { reference_id: referenceId, spec, ...(title ? { title } : {}) }, key, onWait,
);
/** The state of a pack. */
export const pack = (id, signal) => askAgain(`/v1/packs/${id}`, { signal });
/** Cancel a pack, or delete it. */
export const deletePack = (id) => ask(`/v1/packs/${id}`, { method: "DELETE" });

/** The photo with these bytes, if the service has it. @returns {Promise<object|null>} */
export async function findReference(sha256) {
  const page = await ask(`/v1/references?sha256=${sha256}`);
  return page.items[0] ?? null;
}

/** A unique idempotency key (IETF Idempotency-Key draft). */
export function freshKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * Upload a photo. Repeated with the same key, the service answers with the photo that it stored
 * the first time, if it did.
 * @param {File} file
 * @param {{key: string, progress: function(number), signal: AbortSignal, studentId?: string}} how
 *   `progress` is called with the share sent, from 0 to 1; `studentId` is for a tutor's upload.
 */
export async function uploadReference(file, how) {
  for (let tries = 1; ; tries += 1) {
    try {
      return await uploadOnce(file, how);
    } catch (error) {
      if (error.status === 401 && tries === 1 && await frame?.renew()) continue;
      if (error.code !== "idempotency-key-in-progress" || tries >= IN_PROGRESS_TRIES) throw error;
      await wait(IN_PROGRESS_WAIT_MS, how.signal);
    }
  }
}

function uploadOnce(file, { key, progress, signal, studentId = null, asItIs = false }) {
  const parameters = { ...(studentId && { student_id: studentId }), ...(asItIs && { accept_damaged: "true" }) };
  const query = String(new URLSearchParams(parameters));
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    const form = new FormData();
    form.append("file", file, file.name || "photo");
    request.upload.addEventListener("progress", (event) => {
      if (event.lengthComputable) progress(event.loaded / event.total);
    });
    request.addEventListener("load", () => {
      if (request.status === 201) resolve(JSON.parse(request.responseText));
      else reject(problemOf(request.status, request.responseText));
    });
    request.addEventListener("error", () => reject(new Problem({ code: "offline" })));
    request.addEventListener("abort", () => reject(new DOMException("aborted", "AbortError")));
    signal.addEventListener("abort", () => request.abort());
    request.open("POST", `/v1/references${query && `?${query}`}`);
    request.setRequestHeader("Idempotency-Key", key);
    if (frame) request.setRequestHeader("Authorization", frame.authorization());
    request.send(form);
  });
}

function wait(ms, signal) {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(resolve, ms);
    signal.addEventListener("abort", () => {
      clearTimeout(timer);
      reject(new DOMException("aborted", "AbortError"));
    });
  });
}

const ENDED = new Set(["ready", "failed", "cancelled"]);

/**
 * Follow a pack until it has ended: by events, or by polling where there are none, and at once
 * when a phone wakes up or is online again.
 * @param {string} id
 * @param {function(object)} onChange called with the pack document whenever it has changed
 * @param {function(Problem)} onProblem the pack is gone, or the service cannot be reached now
 *   (polling goes on unless the pack is gone)
 * @returns {function} stops following
 */
export function followPack(id, onChange, onProblem) {
  let over = false;
  let timer = 0;
  let stream = null;
  let known = null;
  let asking = false;

  function update(document) {
    if (over) return;
    known = document;
    onChange(document);
    if (ENDED.has(document.state)) stop();
  }

  /** An event has the progress only; the last one is the whole document. */
  function handleEvent(event) {
    if (ENDED.has(event.state)) update(event);
    else if (known) update({ ...known, ...event });
    // Progress alone cannot be shown without the document.
    else if (!asking) poll();
  }

  async function poll() {
    clearTimeout(timer);
    if (over) return;
    asking = true;
    try {
      update(await pack(id));
    } catch (error) {
      if (over) return;
      onProblem(error);
      if ([403, 404].includes(error.status)) stop();
    } finally {
      asking = false;
    }
    if (!over && stream === null) timer = setTimeout(poll, POLL_EVERY_MS);
  }

  function listen() {
    // Where there is a token instead of a cookie, it cannot send it.
    if (frame || typeof EventSource === "undefined") return;
    stream = new EventSource(`/v1/packs/${id}/events`);
    stream.addEventListener("message", (event) => handleEvent(JSON.parse(event.data)));
    stream.addEventListener("gone", poll);
    stream.addEventListener("error", () => {
      // The browser reconnects by itself unless it was refused: then polling takes over.
      if (stream?.readyState === EventSource.CLOSED) stream = null;
      poll();
    });
  }

  function onWake() {
    if (document.visibilityState === "visible") poll();
  }

  function stop() {
    over = true;
    clearTimeout(timer);
    stream?.close();
    document.removeEventListener("visibilitychange", onWake);
    window.removeEventListener("online", onWake);
  }

  document.addEventListener("visibilitychange", onWake);
  window.addEventListener("online", onWake);
  listen();
  poll();
  return stop;
}
