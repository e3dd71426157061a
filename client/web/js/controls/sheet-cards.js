// Thumbnails of the sheets of a finished pack. They are cut from the small picture that was made
// with the pack, by the rectangles of the plan, so that a hundred sheets need one request.

import { showPicture } from "../api/access.js";
import { h } from "../lib/dom.js";

/** Width of a thumbnail in pixels: twice its width on the page. */
const WIDTH_PX = 240;
/** Width and colour of a grid line. */
const GRID = { width: 1, ink: "rgb(0 0 0 / 0.55)" };

/**
 * @param {function} t
 * @param {object} pack the pack's document
 * @returns {Node}
 */
export function sheetCards(t, pack) {
  const { plan } = pack;
  const pieces = new Map(plan.pieces.map((piece) => [piece.label, piece]));
  const cards = pack.files.sheets.map(({ label, png }) => ({ label, png, canvas: blank(t, label, plan.sheet) }));
  const picture = new Image();
  picture.addEventListener("load", () => {
    for (const { label, canvas } of cards) draw(canvas, picture, plan, pieces.get(label));
  });
  showPicture(picture, pack.files.picture);
  return h("ul", { class: "thumbs" }, cards.map(({ label, png, canvas }) => h("li", {},
    h("a", { href: png, target: "_blank" }, canvas, h("span", { "aria-hidden": "true", text: label })))));
}

/** One sheet; its content is drawn when the picture has loaded. */
function blank(t, label, sheet) {
  return h("canvas", {
    width: WIDTH_PX, height: Math.round((WIDTH_PX * sheet.height_mm) / sheet.width_mm),
    role: "img", "aria-label": t("pack.sheet-alt", { label }),
  });
}

/** Draw the piece at its place on the sheet, turned as it is printed. */
function draw(canvas, picture, plan, piece) {
  const { picture_rect_mm: part, sheet_rect_mm: place, turned_deg: turned } = piece;
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
