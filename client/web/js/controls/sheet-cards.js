// The sheets of a pack that is ready, each in small. All of them are cut from the one small
// picture that was made with the pack, where the plan says, so that showing a hundred sheets
// asks the service for one file, and fetching the pack waits for none of them.

import { h } from "../lib/dom.js";

/** Width of a card's drawing in pixels: twice what it takes on the page. */
const WIDTH_PX = 240;
/** A line of the grid, and its ink. */
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
  picture.src = pack.files.picture;
  return h("ul", { class: "thumbs" }, cards.map(({ label, png, canvas }) => h("li", {},
    h("a", { href: png, target: "_blank" }, canvas, h("span", { "aria-hidden": "true", text: label })))));
}

/** A sheet of paper; what is on it is drawn once the picture is there. */
function blank(t, label, sheet) {
  return h("canvas", {
    width: WIDTH_PX, height: Math.round((WIDTH_PX * sheet.height_mm) / sheet.width_mm),
    role: "img", "aria-label": t("pack.sheet-alt", { label }),
  });
}

/** The piece where it lies on its sheet, turned as it is printed. */
function draw(canvas, picture, plan, piece) {
  const { picture_rect_mm: part, sheet_rect_mm: place, turned_deg: turned } = piece;
  const pen = canvas.getContext("2d");
  const scale = canvas.width / plan.sheet.width_mm;
  const fine = picture.naturalWidth / plan.picture.width_mm;
  pen.scale(scale, scale);
  pen.translate(place.left, place.top);
  if (turned) {
    // Clockwise: the piece's top lies at the page's right.
    pen.translate(place.width, 0);
    pen.rotate(Math.PI / 2);
  }
  const [width, height] = turned ? [place.height, place.width] : [place.width, place.height];
  pen.imageSmoothingQuality = "high";
  pen.drawImage(picture, part.left * fine, part.top * fine, part.width * fine, part.height * fine, 0, 0, width, height);
  const side = plan.grid?.square_mm;
  if (side) squares(pen, part, side, GRID.width / scale);
}

/** The grid's lines that cross a piece, by their absolute place. */
function squares(pen, part, side, width) {
  pen.fillStyle = GRID.ink;
  for (let x = Math.ceil(part.left / side) * side; x <= part.left + part.width; x += side) pen.fillRect(x - part.left - width / 2, 0, width, part.height);
  for (let y = Math.ceil(part.top / side) * side; y <= part.top + part.height; y += side) pen.fillRect(0, y - part.top - width / 2, part.width, width);
}
