"""Two sheets of a pack, printed, cut and joined with a shift, and the register mark read by eye.

The reader knows of a mark what a sheet says: five ticks and a cross on each piece, the middle
pair of ticks meets where the joint is true, and each next one stands for 0.3 mm. It measures
pixels; the numbers that marks are drawn with are not used here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import pypdfium2

from worker.spec.plan import Piece, Plan, Rect, Seam

Grey = npt.NDArray[np.uint8]
Flags = npt.NDArray[np.bool_]
Point = tuple[float, float]

PPI = 600
PX_PER_MM = PPI / 25.4
MM_PER_PT = 25.4 / 72
#: Each pixel of the printer is looked up in the middle of so many drawn ones, without blur.
_DRAWN = 3
#: Around a mark, along the seam and to either side of it.
_ALONG_MM, _ASIDE_MM = 7.0, 3.0
#: What is printed around that, for sheets that are moved.
_MORE_PX = 24
#: One tick further stands for so much shift.
TICK_MM = 0.3
#: Darker than this is ink.
_INK = 128
#: What is looked at along an edge, to find where the ticks meet it.
_EDGE_MM = 0.6
#: Less is a speck of the screen.
_LEAST_DASH_PX = 8
_TABLE = 255


@dataclass(frozen=True)
class Joint:
    """A joint as it lies on the table, turned so that the seam is upright in the picture.

    Attributes:
        pixels: Grey values, rows along the seam.
        left_px, right_px: Where the left piece ends to the eye, and the right one begins.
    """

    pixels: Grey
    left_px: int
    right_px: int


@dataclass(frozen=True)
class Reading:
    """What the eye reads off a mark, in millimetres.

    Attributes:
        ticks: The shift along the seam that the pair of ticks says which meets best.
        along, across: What the two lines of the cross are apart, along the seam and across it; a
            gap is positive, an overlap negative.
    """

    ticks: float
    along: float
    across: float


@dataclass(frozen=True)
class Halves:
    """What both sheets of a seam show around a mark, as they are printed and cut.

    Attributes:
        pixels, inside: Of the first and the second: grey values, and what of them is paper.
        lapped: Whether the second lies on the first.
    """

    pixels: tuple[Grey, Grey]
    inside: tuple[Flags, Flags]
    lapped: bool

    def laser(self) -> Halves:
        """The same from a laser printer."""
        first, second = (screened(pixels) for pixels in self.pixels)
        return replace(self, pixels=(first, second))

    def joined(self, along_mm: float, across_mm: float) -> Joint:
        """Both on the table, the second moved along and away from where it belongs.

        Where edges that should meet overlap, the first lies on top.
        """
        sheet = np.full(self.pixels[0].shape, _TABLE, np.uint8)
        shifts = (0, 0), (round(along_mm * PX_PER_MM), round(across_mm * PX_PER_MM))
        ends = [0, 0]
        for one in (0, 1) if self.lapped else (1, 0):
            pixels, inside = (_moved(of[one], shifts[one]) for of in (self.pixels, self.inside))
            sheet[inside] = pixels[inside]
            columns = np.flatnonzero(inside.any(axis=0))
            ends[one] = columns[0] if one else columns[-1] + 1
        left = ends[1] if self.lapped else ends[0]
        right = ends[1] if self.lapped else max(ends)
        shown = sheet[_MORE_PX:-_MORE_PX, _MORE_PX:-_MORE_PX]
        return Joint(shown, left - _MORE_PX, right - _MORE_PX)


def halves_at(pdf: Path, plan: Plan, seam: Seam, place: Point) -> Halves:
    """Print the two sheets of a seam around a mark, drawn by PDFium, and cut them."""
    upper, lower = (_piece(plan, label) for label in seam.between)
    (first, cut), (second, other) = (
        _printed(pdf, plan, piece, place, seam) for piece in (upper, lower)
    )
    lapped = upper.lap_right_mm > 0 if seam.standing else upper.lap_bottom_mm > 0
    return Halves((first, second), (cut, other), lapped)


def read_mark(joint: Joint) -> Reading:
    """Read a mark.

    Raises:
        AssertionError: There are not five ticks and a cross on each piece.
    """
    dark = joint.pixels < _INK
    near = round(_EDGE_MM * PX_PER_MM)
    left, right = joint.left_px, joint.right_px
    ticks = [
        _ticks(dark[:, left - near : left - 1].sum(axis=1)),
        _ticks(dark[:, right + 1 : right + near].sum(axis=1)),
    ]
    apart = [abs(one - other) for one, other in zip(*ticks, strict=True)]
    pair = int(np.argmin(apart)) - 2
    top = round(max(ticks[0][-1], ticks[1][-1]) + 0.7 * PX_PER_MM)
    first, second = _meeting(dark, joint, top, side=-1), _meeting(dark, joint, top, side=1)
    # A lower sheet that is pushed along carries its wider ticks with it.
    return Reading(
        ticks=-pair * TICK_MM,
        along=(second[1] - first[1]) / PX_PER_MM,
        across=(second[0] - first[0]) / PX_PER_MM,
    )


def _ticks(ink: npt.NDArray[np.int_]) -> list[float]:
    """The middles of the five ticks in a profile along an edge; the cross comes after them."""
    found = [(start + end - 1) / 2 for start, end in _runs(ink >= ink.max() / 3)]
    assert len(found) > 5, f"five ticks and a cross are expected: {found}"
    return found[:5]


def _meeting(dark: Flags, joint: Joint, top: int, *, side: int) -> Point:
    """Where the two lines of a cross meet, as one piece shows them: (across, along)."""
    edge = joint.left_px if side < 0 else joint.right_px
    inside = slice(0, edge) if side < 0 else slice(edge, None)
    part = dark[top:, inside].astype(np.uint8)
    _, _, boxes, middles = cv2.connectedComponentsWithStats(part, connectivity=8)
    right, bottom = boxes[1:, 0] + boxes[1:, 2], boxes[1:, 1] + boxes[1:, 3]
    # What touches the edge is cut off, or is where both lines meet.
    whole = right < part.shape[1] if side < 0 else boxes[1:, 0] > 0
    whole &= (boxes[1:, 4] >= _LEAST_DASH_PX) & (bottom < part.shape[0])
    dashes = middles[1:][whole] + (inside.start, top)
    halfway = dashes[:, 1].mean()
    (slope, start), (other_slope, other_start) = (
        np.polyfit(*dashes[line].T, 1) for line in (dashes[:, 1] < halfway, dashes[:, 1] > halfway)
    )
    across = (other_start - start) / (slope - other_slope)
    return float(across), float(start + slope * across)


def _runs(flags: Flags) -> list[tuple[int, int]]:
    """Start and end of each run of true."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return [(int(start), int(end)) for start, end in list(pairwise(edges))[::2]]


def _window() -> tuple[int, int]:
    """What is printed around a mark: width and height in pixels."""
    across, along = (round(2 * mm * PX_PER_MM) for mm in (_ASIDE_MM, _ALONG_MM))
    return across + 2 * _MORE_PX, along + 2 * _MORE_PX


def _moved(pixels: npt.NDArray[np.generic], by_px: tuple[int, int]) -> npt.NDArray[np.generic]:
    """Pixels moved down and rightwards; what comes in is zero."""
    moved = np.zeros_like(pixels)
    target = tuple(slice(max(0, by), by if by < 0 else None) for by in by_px)
    source = tuple(slice(max(0, -by), -by if by > 0 else None) for by in by_px)
    moved[target] = pixels[source]
    return moved


def _piece(plan: Plan, label: str) -> Piece:
    piece = plan.piece(label)
    assert piece is not None
    return piece


def _printed(pdf: Path, plan: Plan, piece: Piece, place: Point, seam: Seam) -> tuple[Grey, Flags]:
    """What a piece shows around a place of the picture, and where it is cut to.

    Both are sampled at the printer's pixels, the seam upright in the middle.
    """
    width, height = _window()
    along = ((np.arange(height) + 0.5 - height / 2) / PX_PER_MM)[:, None]
    across = ((np.arange(width) + 0.5 - width / 2) / PX_PER_MM)[None, :]
    shift = (across, along) if seam.standing else (along, across)
    whole, cut = piece.picture_rect_mm, piece.sheet_rect_mm
    x = (place[0] + shift[0] - whole.left) / whole.width
    y = (place[1] + shift[1] - whole.top) / whole.height
    inside = (x >= 0) & (x < 1) & (y >= 0) & (y < 1)
    page_x, page_y = (1 - y, x) if piece.turned_deg else (x, y)
    mm = cut.left + page_x * cut.width + 0 * inside, cut.top + page_y * cut.height + 0 * inside
    window = Rect(mm[0].min() - 1, mm[1].min() - 1, np.ptp(mm[0]) + 2, np.ptp(mm[1]) + 2)
    return _page(pdf, plan, piece.page, window, mm), inside


def _page(
    pdf: Path,
    plan: Plan,
    page: int,
    window: Rect,
    mm: tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]],
) -> Grey:
    """The page at these places, drawn by PDFium with several pixels for each of the printer's."""
    scale = PPI * _DRAWN / 72
    document = pypdfium2.PdfDocument(pdf)
    try:
        width, height = plan.sheet.width_mm / MM_PER_PT, plan.sheet.height_mm / MM_PER_PT
        left, top = (max(0, math.floor(one / MM_PER_PT)) for one in (window.left, window.top))
        right = max(0, math.floor(width - window.right / MM_PER_PT))
        bottom = max(0, math.floor(height - window.bottom / MM_PER_PT))
        bitmap = document[page - 1].render(
            scale=scale, crop=(left, bottom, right, top), grayscale=True
        )
        drawn = np.asarray(bitmap.to_pil().convert("L")).copy()
    finally:
        document.close()
    # PDFium crops whole pixels.
    rows = np.floor(mm[1] / MM_PER_PT * scale - math.ceil(top * scale)).astype(int)
    columns = np.floor(mm[0] / MM_PER_PT * scale - math.ceil(left * scale)).astype(int)
    rows, columns = rows.clip(0, drawn.shape[0] - 1), columns.clip(0, drawn.shape[1] - 1)
    return np.asarray(drawn[rows, columns])


def screened(grey: Grey, lines_per_inch: float = 106.0) -> Grey:
    """What a laser printer makes of grey: black dots that grow, at 45 degrees.

    The screen of most 600 ppi printers has some 106 lines per inch (common practice): a dot for
    each square of four pixels, measured along the screen.
    """
    rows, columns = np.indices(grey.shape, dtype=np.float64)
    turn = math.pi * lines_per_inch / PPI * math.sqrt(2)
    spot = (np.cos(turn * (rows + columns)) + np.cos(turn * (rows - columns))) / 2
    # Each tint blackens its own share of the pixels.
    threshold = np.argsort(np.argsort(spot.ravel())).reshape(spot.shape) / spot.size
    black = grey / 255.0 < threshold
    return np.where(black | (grey == 0), 0, 255).astype(np.uint8)
