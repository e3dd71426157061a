// The style sheets of screens, each loaded with the first screen that needs it.

/** In the order of the cascade, whichever is loaded first; base and photo stand in the page itself. */
const ORDER = ["bench", "paper-and-frame", "sheets", "studio", "squares", "shelf", "pack", "people-and-classes", "drawing-aids", "loupe"];
const loading = new Map();

/**
 * Load style sheets that are not there yet.
 * @param {string[]} names of files in css, without their ending
 * @returns {Promise} rejected where one cannot be loaded; it is asked for anew next time
 */
export function needStyles(names) {
  return Promise.all(names.map((name) => {
    if (!loading.has(name)) loading.set(name, add(name));
    return loading.get(name);
  }));
}

function add(name) {
  const link = document.createElement("link");
  link.rel = "stylesheet";
  link.href = `/css/${name}.css`;
  link.dataset.place = ORDER.indexOf(name);
  const later = [...document.querySelectorAll("link[data-place]")].find((one) => Number(one.dataset.place) > link.dataset.place);
  return new Promise((resolve, reject) => {
    link.addEventListener("load", resolve);
    link.addEventListener("error", () => {
      link.remove();
      loading.delete(name);
      reject(new Error(link.href));
    });
    document.head.insertBefore(link, later ?? null);
  });
}
