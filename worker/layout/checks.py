"""What to cut together, what to measure, and in which order to transfer."""

from __future__ import annotations

import math
from collections import defaultdict

from worker.layout.page_area import PageArea
from worker.spec.formats import sheet_format
from worker.spec.plan import CheckLength, Edge, Pass, Piece, Size, TrimStack
from worker.units import inch_to_mm

#: Margins that differ by less are one setting of the cutter.
_SAME_CUT_MM = 0.05
#: What careful trimming and joining keeps to, up to a metre; beyond it, per mille of the
#: length (common practice).
JOINED_TOLERANCE_MM = 1.0
_JOINED_TOLERANCE_SHARE = 0.001
#: What can be read off a ruler twice the same (common practice).
SHEET_TOLERANCE_MM = 0.5


def trim_stacks(pieces: tuple[Piece, ...], page: PageArea) -> tuple[TrimStack, ...]:
    """Sheets whose cuts are alike, largest stack first; one sheet alone makes no stack.

    A flap is not cut.
    """
    if len(pieces) == 1:
        return ()
    stacks: dict[tuple[tuple[Edge, int], ...], list[Piece]] = defaultdict(list)
    for piece in pieces:
        cuts = _cuts(piece, page)
        stacks[tuple((edge, round(mm / _SAME_CUT_MM)) for edge, mm in cuts.items())].append(piece)
    ordered = sorted(stacks.values(), key=lambda stack: (-len(stack), stack[0].page))
    return tuple(_stack(stack, page) for stack in ordered)


def _stack(stack: list[Piece], page: PageArea) -> TrimStack:
    return TrimStack(labels=tuple(piece.label for piece in stack), margin_mm=_cuts(stack[0], page))


def _cuts(piece: Piece, page: PageArea) -> dict[Edge, float]:
    """From each edge of the paper to the cut, as a ruler finds it on the print.

    A corrected page is drawn too large or too small by what the printer takes back; the
    paper stays what it is. Printers begin at the head and at the left (common practice).
    """
    rect, size = piece.sheet_rect_mm, page.size
    cuts: dict[Edge, float] = {
        "top": rect.top / page.down,
        "right": size.width_mm - rect.right / page.across,
        "bottom": size.height_mm - rect.bottom / page.down,
        "left": rect.left / page.across,
    }
    return {edge: mm for edge, mm in cuts.items() if edge != piece.flap}


def check_lengths(
    pieces: tuple[Piece, ...], picture: Size, format_name: str
) -> tuple[CheckLength, ...]:
    """Width, height and both diagonals of the joined enlargement, and one for each page.

    One sheet alone has no diagonals: a sheet that is cut is no more crooked than its cuts.
    """
    corners = _corner_labels(pieces)
    width, height = picture.width_mm, picture.height_mm
    diagonal = math.hypot(width, height)
    joined = (
        ("width", "top left", "top right", width),
        ("height", "top left", "bottom left", height),
        ("diagonal", "top left", "bottom right", diagonal),
        ("other diagonal", "bottom left", "top right", diagonal),
    )
    whole = tuple(
        CheckLength(
            name=name,
            scope="joined",
            start=f"{corners[start]} {start}",
            end=f"{corners[end]} {end}",
            length_mm=length,
            tolerance_mm=max(JOINED_TOLERANCE_MM, length * _JOINED_TOLERANCE_SHARE),
        )
        for name, start, end, length in joined
        if len(pieces) > 1 or "diagonal" not in name
    )
    return whole + _scale_bars(pieces, format_name)


def scale_bar_mm(format_name: str) -> float:
    """The length of the scale bar on every page: 100 mm, or 4 in where people use inches."""
    return inch_to_mm(4.0) if sheet_format(format_name).inches else 100.0


def _scale_bars(pieces: tuple[Piece, ...], format_name: str) -> tuple[CheckLength, ...]:
    return tuple(
        CheckLength(
            name=f"scale bar on {piece.label}",
            scope="sheet",
            start="one end",
            end="other end",
            length_mm=scale_bar_mm(format_name),
            tolerance_mm=SHEET_TOLERANCE_MM,
        )
        for piece in pieces
    )


def _corner_labels(pieces: tuple[Piece, ...]) -> dict[str, str]:
    right = max(piece.picture_rect_mm.right for piece in pieces)
    bottom = max(piece.picture_rect_mm.bottom for piece in pieces)
    points = {
        "top left": (0.0, 0.0),
        "top right": (right, 0.0),
        "bottom left": (0.0, bottom),
        "bottom right": (right, bottom),
    }
    return {name: _nearest(pieces, point) for name, point in points.items()}


def _nearest(pieces: tuple[Piece, ...], point: tuple[float, float]) -> str:
    def away(piece: Piece) -> float:
        rect = piece.picture_rect_mm
        across = min(abs(rect.left - point[0]), abs(rect.right - point[0]))
        return across + min(abs(rect.top - point[1]), abs(rect.bottom - point[1]))

    return min(pieces, key=away).label


def passes(pieces: tuple[Piece, ...], *, face_down: bool = False) -> tuple[Pass, ...]:
    """The order of transfer: piece by piece, row by row from the support's top left.

    A right hand then rests on what is still to be traced, never on what has been; a left
    hand takes each row from its other end (common practice). An enlargement that lies face
    down has its last column at the left.
    """
    side = -1 if face_down else 1
    ordered = sorted(pieces, key=lambda piece: (piece.row, side * piece.column))
    return tuple(Pass(number=n, labels=(piece.label,)) for n, piece in enumerate(ordered, start=1))
