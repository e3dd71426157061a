// Puts Ricalco into a page of a course site: <script src="…/embed.js" data-site="sit_…"
// data-session="/address" async></script>. The page's own server answers POST /address with what
// the service answered it to POST /v1/sessions. Messages go to the service's origin alone and are
// taken from the frame at that origin alone.
(() => {
  const script = document.currentScript;
  const { site = "", session = "", title = "Ricalco", language = document.documentElement.lang } = script.dataset;
  const { origin } = new URL(script.src);
  const frame = document.createElement("iframe");
  frame.title = title;
  frame.className = "ricalco";
  frame.allow = navigator.share ? "camera; web-share" : "camera";
  // Its own origin, which is another than this page's: storage, forms, files to save, and print.
  frame.sandbox = "allow-downloads allow-forms allow-modals allow-popups allow-popups-to-escape-sandbox allow-same-origin allow-scripts";
  frame.referrerPolicy = "no-referrer";
  Object.assign(frame.style, { display: "block", width: "100%", height: "100svh", border: "0" });
  frame.src = `${origin}/embed?${new URLSearchParams({ site, origin: location.origin, language })}`;
  script.after(frame);
  // Taller content scrolls in the frame, where the page's buttons stay in reach.
  if (getComputedStyle(frame).maxHeight === "none") frame.style.maxHeight = "100svh";

  const view = () => parseFloat(getComputedStyle(frame).maxHeight) || innerHeight;
  const tell = (message) => frame.contentWindow.postMessage({ view: view(), ...message }, origin);

  /** What this page's own server answers; null where it starts no session now. */
  async function newSession() {
    try {
      const answer = await fetch(session, { method: "POST", mode: "same-origin", cache: "no-store", headers: { Accept: "application/json" } });
      return answer.ok ? await answer.json() : null;
    } catch {
      return null;
    }
  }

  const heard = {
    async session() {
      tell({ ricalco: "session", session: await newSession() });
    },
    height({ height }) {
      if (height > 0) frame.style.height = `${Math.max(height, Math.min(600, view()))}px`;
    },
    step() {
      frame.scrollIntoView({ block: "nearest" });
    },
  };
  addEventListener("message", ({ source, origin: from, data }) => {
    if (source === frame.contentWindow && from === origin && Object.hasOwn(heard, data?.ricalco)) heard[data.ricalco](data);
  });
  let told = view();
  addEventListener("resize", () => {
    if (view() !== told) tell({});
    told = view();
  });
})();
