// What a learning platform keeps for a page in its frame, where no cookie is kept: messages of LTI
// Client Side postMessages 1.0 to the window that the platform names, and to the origin of its
// authentication address alone.

/** Milliseconds that the platform may take to answer. */
const PATIENCE_MS = 5000;

/** The data that the service has put into this document; it is taken out of it. */
export function takeData() {
  const element = document.getElementById("launch");
  const data = JSON.parse(element.textContent);
  element.remove();
  return data;
}

/** The window to ask: the one around this frame, or a frame beside it by its name. */
function windowOf(target) {
  const around = window.parent !== window ? window.parent : window.opener;
  if (!around || target === "_parent") return around;
  return around.frames[target] ?? around;
}

/**
 * Send a message, and wait for its answer.
 * @param {{target: string, origin: string}} platform
 * @param {object} message with its `subject`
 * @returns {Promise<object|null>} null: there is none, or an error
 */
export function ask({ target, origin }, message) {
  const to = windowOf(target);
  if (!to) return Promise.resolve(null);
  const id = crypto.randomUUID?.() ?? `${Date.now()}-${Math.random()}`;
  return new Promise((resolve) => {
    setTimeout(resolve, PATIENCE_MS, null);
    addEventListener("message", ({ source, origin: from, data }) => {
      if (source !== to || from !== origin || data?.message_id !== id) return;
      if (data.subject === `${message.subject}.response`) resolve(data.error ? null : data);
    });
    to.postMessage({ ...message, message_id: id }, origin);
  });
}
