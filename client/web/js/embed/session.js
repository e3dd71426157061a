// The session of one student in this frame. Its token is held here, in memory: not in storage, no
// cookie, no address. It is renewed through the course page while it is valid, and asked for once
// more when the service refuses it.

/** Pause before the course page is asked again while the session is still valid. */
const AGAIN_MS = 15_000;

/**
 * @param {object} how
 * @param {function(): Promise<string|null>} how.requestToken asks the course page for the token of
 *   a new session
 * @param {function(string): Promise<number>} how.inspect how many milliseconds a token has left; 0
 *   where it is not for this frame and its student
 * @param {function()} how.onEnd called when the session has ended and nobody renews it
 * @returns {{authorization, renew, send, picture}} `renew` begins the first session too
 */
export function frameSession({ requestToken, inspect, onEnd }) {
  let token = "";
  let beganAt = 0;
  let endsAt = 0;
  let timer = 0;
  let renewing = null;
  const pictures = new Map();

  function watch(ms) {
    clearTimeout(timer);
    timer = setTimeout(lookAtClock, ms);
  }

  /** Renew in the second half of the session, while the frame is looked at. */
  async function lookAtClock() {
    if (document.hidden || !token || Date.now() < (beganAt + endsAt) / 2) return;
    if (await renew()) return;
    if (Date.now() < endsAt) watch(Math.min(AGAIN_MS, endsAt - Date.now()));
    else onEnd();
  }

  /** Renew the session, once for all who wait for it. @returns {Promise<boolean>} whether there is a valid one */
  function renew() {
    renewing ??= takeNext().finally(() => {
      renewing = null;
    });
    return renewing;
  }

  async function takeNext() {
    const next = await requestToken();
    const leftMs = next ? await inspect(next).catch(() => 0) : 0;
    if (leftMs <= 0) return false;
    token = next;
    beganAt = Date.now();
    endsAt = beganAt + leftMs;
    watch(leftMs / 2);
    return true;
  }

  const authorization = () => `Bearer ${token}`;

  function once(path, options) {
    const headers = { ...options.headers, Authorization: authorization() };
    return fetch(path, { ...options, headers, credentials: "omit" });
  }

  /** Request a path; a token that has ended or is refused is renewed first. */
  async function send(path, options = {}) {
    const valid = Date.now() < endsAt || await renew();
    const answer = await once(path, options);
    if (answer.status !== 401) return answer;
    if (valid && await renew()) return once(path, options);
    onEnd();
    return answer;
  }

  /** A picture as an address of this frame; one without content where there is none. */
  function picture(path) {
    if (!pictures.has(path)) pictures.set(path, fetchPicture(path));
    return pictures.get(path);
  }

  async function fetchPicture(path) {
    try {
      const answer = await send(path);
      if (answer.ok) return URL.createObjectURL(await answer.blob());
    } catch {
      // It is asked for again when it is shown again.
    }
    pictures.delete(path);
    return "data:,";
  }

  document.addEventListener("visibilitychange", lookAtClock);
  return { authorization, renew, send, picture };
}
