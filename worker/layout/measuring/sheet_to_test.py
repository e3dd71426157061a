"""Which sheet is printed first and measured, before paper and ink go into all others.

It is the one with the longest lengths to measure, both ways, among those that show what the
printer makes of the picture: an empty sheet shows nothing, and on 44 mm no rule tells a printer's
error.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from worker.layout.measuring.allowances import Allowances
from worker.layout.traced_line import TracedLine
from worker.spec.plan import CheckLength, Piece, Rect, SheetToTest, Size
from worker.spec.spec import Spec
from worker.spec.study import PictureFrame, ReferenceStudy, tones_over
from worker.spec.tone_curve import tone_curve

#: A sheet with less than this share of the mean ink shows too little of the picture.
_REAL_TONE = 0.5


def ink_on(
    pieces: Sequence[Piece],
    spec: Spec,
    study: ReferenceStudy,
    frame: PictureFrame,
    line: TracedLine,
) -> tuple[float, ...]:
    """How much there is to see on each piece; only their proportions mean anything.

    Of a style that prints tones it is the share of ink, of lines alone their length by area.
    """
    if spec.tone.style == "outline":
        return tuple(_line_on(piece.picture_rect_mm, line) for piece in pieces)
    grey = tones_over(study, frame).round().astype("uint8")
    ink = 1.0 - tone_curve(spec.tone)[grey] / 255.0
    picture = Size(frame.width_mm, frame.height_mm)
    return tuple(float(ink[_cells(ink.shape, piece, picture)].mean()) for piece in pieces)


def _line_on(rect: Rect, line: TracedLine) -> float:
    ends = np.array([rect.left]), np.array([rect.right])
    length_mm = line.length.in_columns(*ends, rect.top, rect.bottom)
    return float(length_mm[0]) / (rect.width * rect.height)


def _cells(shape: tuple[int, ...], piece: Piece, picture: Size) -> tuple[slice, slice]:
    """The cells of a map over the picture that a piece covers; at least one."""
    rect = piece.picture_rect_mm
    rows, columns = shape
    top, left = (
        int(rect.top / picture.height_mm * rows),
        int(rect.left / picture.width_mm * columns),
    )
    top, left = min(top, rows - 1), min(left, columns - 1)
    bottom = max(round(rect.bottom / picture.height_mm * rows), top + 1)
    right = max(round(rect.right / picture.width_mm * columns), left + 1)
    return slice(top, bottom), slice(left, right)


def sheet_to_test(
    pieces: Sequence[Piece],
    inks: Sequence[float],
    joined: Sequence[CheckLength],
    allowances: Allowances,
) -> SheetToTest:
    """Choose the sheet.

    Args:
        pieces: All pieces.
        inks: How much there is to see on each.
        joined: The check lengths of the joined picture, width and height first.
        allowances: What lengths may be off.
    """
    least = _REAL_TONE * sum(inks) / len(inks)
    shown = [(piece, ink) for piece, ink in zip(pieces, inks, strict=True) if ink >= least]
    piece, _ = max(
        shown, key=lambda each: (min(cut_to_cut(each[0])), sum(cut_to_cut(each[0])), each[1])
    )
    return SheetToTest(
        label=piece.label,
        page=piece.page,
        tells=_tells(piece, pieces, joined, allowances),
    )


def cut_to_cut(piece: Piece) -> tuple[float, float]:
    """How long a piece is across and down its page, in mm, to a thousandth."""
    rect = piece.picture_rect_mm
    sides = (rect.height, rect.width) if piece.turned_deg else (rect.width, rect.height)
    return round(sides[0], 3), round(sides[1], 3)


def _tells(
    piece: Piece, pieces: Sequence[Piece], joined: Sequence[CheckLength], allowances: Allowances
) -> bool:
    """Whether both ways of the page vouch for each side of the picture that they print."""
    across, down = cut_to_cut(piece)
    width, height = joined[0], joined[1]
    needed = []
    for turned in {each.turned_deg != 0 for each in pieces}:
        needed += [(down, width), (across, height)] if turned else [(across, width), (down, height)]
    return all(
        allowances.tells(length_mm, side.length_mm, side.seams) for length_mm, side in needed
    )
