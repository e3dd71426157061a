// How requests say who asks: by the browser's cookie, or, in the frame of a course page, by a
// session's token (embed/session.js).

/** The frame (embed/start.js); null where the page is on its own. */
export let frame = null;

/** Ask through the frame's session from now on. */
export function enterFrame(given) {
  frame = given;
}

/** Whether the person may cancel and delete: in a frame, the session says. */
export const mayDelete = () => !frame || frame.mayDelete();

/** Request a path; what is printed is in the page's language, where no class sets another. @returns {Promise<Response>} */
export function send(path, options = {}) {
  const headers = { "Accept-Language": document.documentElement.lang, ...options.headers };
  return frame ? frame.send(path, { ...options, headers }) : fetch(path, { credentials: "same-origin", ...options, headers });
}

/** Show a picture of the service in an image, which cannot send a token itself; without a network its place stays blank. */
export async function showPicture(image, address, attribute = "src") {
  image.addEventListener("error", () => image.classList.add("not-loaded"));
  image.addEventListener("load", () => image.classList.remove("not-loaded"));
  image.setAttribute(attribute, frame ? await frame.picture(address) : address);
}
