// How requests say who asks: by the browser's cookie, or, in the frame of a course page, by the
// token of a session (embed/session.js).

/** The frame of a course page; null where the page is on its own. @type {object|null} */
export let frame = null;

/** Ask through the frame's session from now on. @param {object} given see embed/start.js */
export function enterFrame(given) {
  frame = given;
}

/** Whether the person who uses this page may cancel and delete: in a frame, the session says. */
export const mayDelete = () => !frame || frame.mayDelete();

/** Request a path. @returns {Promise<Response>} */
export const send = (path, options = {}) => (frame ? frame.send(path, options) : fetch(path, { credentials: "same-origin", ...options }));

/** Show a picture of the service in an image, which cannot send a token itself. */
export async function showPicture(image, address, attribute = "src") {
  image.setAttribute(attribute, frame ? await frame.picture(address) : address);
}
