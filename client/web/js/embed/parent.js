// The course page around this frame. Messages are taken from that window and from the origin
// stated in the frame's address alone, and sent to that origin alone (HTML, 9.3 "Cross-document
// messaging": check `origin`, and never send to "*" what is not for everybody).

/** Seconds that the course page may take to answer; its server asks the service meanwhile. */
const PATIENCE_MS = 15_000;

/**
 * @param {Window} parent
 * @param {string} stated origin of the course page
 * @returns {{requestToken: function(): Promise<string|null>, tell: function(object), viewPx: function(): number}}
 */
export function parentPage(parent, stated) {
  let answered = null;
  let viewPx = 0;

  addEventListener("message", ({ source, origin, data }) => {
    if (source !== parent || origin !== stated) return;
    if (data?.view > 0) setView(data.view);
    if (data?.ricalco === "session") answered?.(data.session?.token ?? null);
  });

  /** How much of the frame is seen at once: the page lays pictures out by it. */
  function setView(px) {
    viewPx = px;
    document.documentElement.style.setProperty("--view", `${px}px`);
  }

  const tell = (message) => parent.postMessage(message, stated);

  /** Have the course page's server start a session. @returns {Promise<string|null>} null: it does not, or is silent */
  async function requestToken() {
    let timer = 0;
    const answer = new Promise((resolve) => {
      answered = resolve;
      timer = setTimeout(resolve, PATIENCE_MS, null);
    });
    tell({ ricalco: "session" });
    const token = await answer;
    clearTimeout(timer);
    answered = null;
    return token;
  }

  return { requestToken, tell, viewPx: () => viewPx || window.innerHeight };
}

/** Report the height of the content, now and whenever it changes. @param {function(object)} tell */
export function reportHeight(tell) {
  new ResizeObserver(() => {
    tell({ ricalco: "height", height: Math.ceil(document.body.getBoundingClientRect().height) });
  }).observe(document.body);
}
