// The sheets of a finished pack as a stack to leaf through: the map first, then every sheet, large.
// They are cut from the small picture that was made with the pack, by the rectangles of the plan,
// so that a hundred sheets need one request; each is drawn when it is first seen.

import { showPicture } from "../api/access.js";
import { fill, freshId, h, showDialog } from "../lib/browser/dom.js";

/** Width of a sheet in pixels: twice its width on the page. */
const WIDTH_PX = 480;
/** The same in its dialog. */
const LARGE_PX = 1000;
/** Width and colour of a grid line. */
const GRID = { width: 1, ink: "rgb(0 0 0 / 0.55)" };

/**
 * @param {object} app
 * @param {object} pack the pack's document
 * @param {{online: boolean}} about without the service no sheet can be printed again
 * @returns {HTMLElement}
 */
export function sheetStack({ t }, pack, { online }) {
  const { plan } = pack;
  const pieces = new Map(plan.pieces.map((piece) => [piece.label, piece]));
  const picture = new Image();
  const canvases = new Map();
  const ready = loaded(picture, pack.files.picture);
  const seen = new IntersectionObserver((entries) => {
    for (const { isIntersecting, target } of entries) {
      if (!isIntersecting) continue;
      seen.unobserve(target);
      ready.then(() => draw(target, picture, plan, pieces.get(canvases.get(target)), WIDTH_PX), () => {});
    }
  }, { rootMargin: "300px" });

  function sheet({ label, pdf }) {
    const canvas = blank(t, label, plan.sheet);
    canvases.set(canvas, label);
    seen.observe(canvas);
    const open = () => showSheet(label, pdf);
    return h("li", {}, h("button", { type: "button", class: "stack-sheet", "aria-haspopup": "dialog", on: { click: open } },
      canvas, h("span", { class: "figure", "aria-hidden": "true", text: label })));
  }

  function showSheet(label, pdf) {
    const title = freshId("sheet");
    const canvas = blank(t, label, plan.sheet);
    ready.then(() => draw(canvas, picture, plan, pieces.get(label), LARGE_PX), () => {});
    const close = h("button", { type: "button", class: "button", on: { click: () => dialog.close() } }, t("pack.close"));
    const dialog = showDialog({ class: "sheet-large", "aria-labelledby": title }, [
      h("h2", { id: title, text: t("pack.sheet-alt", { label }) }), canvas,
      h("p", { class: "small", text: t(online ? "pack.reprint-note" : "pack.needs-network") }),
      h("div", { class: "button-row" }, close,
        online && h("a", { class: "button primary", href: pdf, target: "_blank" }, t("pack.reprint-go", { label }))),
    ], { tapBeside: true });
  }

  const list = h("ul", { class: "sheet-stack", tabindex: "-1" }, map(t, pack), pack.files.sheets.map(sheet));
  list.style.setProperty("--share", plan.sheet.width_mm / plan.sheet.height_mm);
  ready.catch(() => list.after(h("p", { class: "small stack-missing", text: t("pack.not-kept") })));
  return h("div", { class: "stack-place" }, list);
}

/** The map; it opens in full size. */
function map(t, pack) {
  const { width_mm: wide, height_mm: high } = pack.plan.sheet;
  const image = h("img", { alt: t("pack.map"), width: 910, height: Math.round((910 * high) / wide) });
  const link = h("a", { class: "stack-sheet pack-map", href: pack.files.map, target: "_blank", title: t("pack.map-large") }, image,
    h("span", { class: "figure", "aria-hidden": "true", text: t("pack.map-short") }));
  image.addEventListener("error", () => fill(link, h("span", { class: "stack-blank small", text: t("pack.not-kept") })));
  showPicture(image, pack.files.map);
  return h("li", {}, link);
}

function loaded(picture, address) {
  return new Promise((resolve, reject) => {
    picture.addEventListener("load", resolve);
    picture.addEventListener("error", () => reject(new Error(address)));
    showPicture(picture, address).catch(reject);
  });
}

/** One sheet; its content is drawn when it is seen and the picture has loaded. */
function blank(t, label, sheet) {
  const canvas = h("canvas", {
    width: 2, height: Math.round((2 * sheet.height_mm) / sheet.width_mm), role: "img", "aria-label": t("pack.sheet-alt", { label }),
  });
  canvas.style.aspectRatio = `${sheet.width_mm} / ${sheet.height_mm}`;
  return canvas;
}

/** Draw the piece at its place on the sheet, turned as it is printed. */
function draw(canvas, picture, plan, piece, widthPx) {
  const { picture_rect_mm: part, sheet_rect_mm: place, turned_deg: turned } = piece;
  Object.assign(canvas, { width: widthPx, height: Math.round((widthPx * plan.sheet.height_mm) / plan.sheet.width_mm) });
  const pen = canvas.getContext("2d");
  const scale = canvas.width / plan.sheet.width_mm;
  const fine = picture.naturalWidth / plan.picture.width_mm;
  pen.scale(scale, scale);
  pen.translate(place.left, place.top);
  if (turned) {
    // Clockwise: the piece's top is at the page's right.
    pen.translate(place.width, 0);
    pen.rotate(Math.PI / 2);
  }
  const [width, height] = turned ? [place.height, place.width] : [place.width, place.height];
  pen.imageSmoothingQuality = "high";
  pen.drawImage(picture, part.left * fine, part.top * fine, part.width * fine, part.height * fine, 0, 0, width, height);
  const side = plan.grid?.square_mm;
  if (side) squares(pen, part, side, GRID.width / scale);
}

/** The grid lines that cross a piece; the grid starts at the picture's top left. */
function squares(pen, part, side, width) {
  pen.fillStyle = GRID.ink;
  for (let x = Math.ceil(part.left / side) * side; x <= part.left + part.width; x += side) pen.fillRect(x - part.left - width / 2, 0, width, part.height);
  for (let y = Math.ceil(part.top / side) * side; y <= part.top + part.height; y += side) pen.fillRect(0, y - part.top - width / 2, part.width, width);
}
