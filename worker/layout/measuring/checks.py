"""What to cut together, and what to measure."""

from __future__ import annotations

import math
from collections import defaultdict

from worker.layout.measuring.allowances import Allowances
from worker.layout.measuring.sheet_to_test import cut_to_cut
from worker.layout.page_area import PageArea
from worker.spec.plan import CheckLength, Edge, Piece, Size, TrimStack

#: Margins that differ by less are one setting of the cutter.
_SAME_CUT_MM = 0.05


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


def joined_lengths(
    pieces: tuple[Piece, ...], picture: Size, allowances: Allowances
) -> tuple[CheckLength, ...]:
    """Width, height and both diagonals of the joined enlargement.

    One sheet alone has no diagonals: a sheet that is cut is no more crooked than its cuts.
    """
    corners = _corner_labels(pieces)
    width, height = picture.width_mm, picture.height_mm
    across, down = _seams_across(pieces), _seams_down(pieces)
    diagonal = math.hypot(width, height), across + down
    joined = (
        ("width", "top left", "top right", width, across),
        ("height", "top left", "bottom left", height, down),
        ("diagonal", "top left", "bottom right", *diagonal),
        ("other diagonal", "bottom left", "top right", *diagonal),
    )
    return tuple(
        CheckLength(
            name=name,
            scope="joined",
            start=f"{corners[start]} {start}",
            end=f"{corners[end]} {end}",
            length_mm=length,
            tolerance_mm=allowances.off_mm(length, seams),
            seams=seams,
        )
        for name, start, end, length, seams in joined
        if len(pieces) > 1 or "diagonal" not in name
    )


def sheet_lengths(piece: Piece, allowances: Allowances) -> tuple[CheckLength, ...]:
    """A piece from cut to cut, across and down its page."""
    ways = (("across", "left cut", "right cut"), ("down", "head cut", "foot cut"))
    return tuple(
        CheckLength(
            name=name,
            scope="sheet",
            start=f"{piece.label} {start}",
            end=f"{piece.label} {end}",
            length_mm=length,
            tolerance_mm=allowances.off_mm(length),
            seams=0,
        )
        for (name, start, end), length in zip(ways, cut_to_cut(piece), strict=True)
    )


def _seams_across(pieces: tuple[Piece, ...]) -> int:
    """How many seams the picture's top edge crosses."""
    return sum(piece.row == 0 for piece in pieces) - 1


def _seams_down(pieces: tuple[Piece, ...]) -> int:
    """How many seams the picture's left edge crosses."""
    return sum(piece.column == 0 for piece in pieces) - 1


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
