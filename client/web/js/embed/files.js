// Downloads in a frame: a link cannot send a token, so the file is fetched and saved from memory.

import { send } from "../api/access.js";
import { h } from "../lib/browser/dom.js";

/** The browser has begun to save a file by then. */
const KEPT_MS = 60_000;

/**
 * Save the files of links to the service instead of following the links.
 * @param {function(string)} announce called with the key of a text
 */
export function saveLinkedFiles(announce) {
  document.addEventListener("click", (event) => {
    const link = event.target.closest?.('a[href^="/v1/"]');
    if (!link) return;
    event.preventDefault();
    if (link.getAttribute("aria-busy") === "true") return;
    link.setAttribute("aria-busy", "true");
    save(link.getAttribute("href"), announce).finally(() => link.removeAttribute("aria-busy"));
  });
}

async function save(path, announce) {
  announce("embed.fetching");
  try {
    const answer = await send(path);
    if (!answer.ok) throw new Error(answer.statusText);
    const address = URL.createObjectURL(await answer.blob());
    h("a", { href: address, download: fileName(answer, path) }).click();
    setTimeout(() => URL.revokeObjectURL(address), KEPT_MS);
    announce("embed.fetched");
  } catch {
    announce("embed.not-fetched");
  }
}

/** The name that the service gives the file (RFC 6266), or the end of its address. */
function fileName(answer, path) {
  const header = answer.headers.get("Content-Disposition") ?? "";
  const [, full] = /filename\*=UTF-8''([^;]+)/.exec(header) ?? [];
  const [, plain] = /filename="([^"]+)"/.exec(header) ?? [];
  return full ? decodeURIComponent(full) : plain ?? path.split("?")[0].split("/").pop();
}
