"""From a partition to pieces with labels, neighbours and places on pages; and their seams.

With a lap, each piece reaches under its right and its lower neighbour; the seam is the edge of
the piece on top, and joining goes from 1·1 onward.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from worker.layout.page_area import PageArea
from worker.layout.seams.cost_map import CostMap
from worker.layout.seams.partition import Partition
from worker.spec.plan import Edge, Piece, Rect, Seam
from worker.spec.sheet_labels import sheet_label

#: Edges closer than this are one edge: all come from the same sums.
_SAME_MM = 1e-6


@dataclass(frozen=True, kw_only=True)
class Cell:
    """A piece's place between seams, before lap and page."""

    row: int
    column: int
    rect_mm: Rect
    turned: bool

    @cached_property
    def label(self) -> str:
        """Row and place in it."""
        return sheet_label(self.row, self.column)


def cells_of(partition: Partition, *, by_columns: bool) -> tuple[Cell, ...]:
    """All cells row by row; `by_columns` says that the partition is of the transposed picture."""
    cells = []
    for band_number, band in enumerate(partition.bands):
        edges = band.edges(partition.width_mm)
        height = band.bottom_mm - band.top_mm
        for number in range(band.pieces):
            left, width = edges[number], edges[number + 1] - edges[number]
            if by_columns:
                rect, place = Rect(band.top_mm, left, height, width), (number, band_number)
            else:
                rect, place = Rect(left, band.top_mm, width, height), (band_number, number)
            cells.append(Cell(row=place[0], column=place[1], rect_mm=rect, turned=band.turned))
    return tuple(sorted(cells, key=lambda cell: (cell.row, cell.column)))


def touching(cells: tuple[Cell, ...]) -> Iterator[tuple[Cell, Cell, bool]]:
    """Every pair that shares part of an edge: (left, right, True) or (upper, lower, False)."""
    for standing in (True, False):
        starts = defaultdict(list)
        for cell in cells:
            start = cell.rect_mm.left if standing else cell.rect_mm.top
            starts[round(start / _SAME_MM)].append(cell)
        for cell in cells:
            end = cell.rect_mm.right if standing else cell.rect_mm.bottom
            for other in _near(starts, round(end / _SAME_MM)):
                low, high = shared(cell.rect_mm, other.rect_mm, standing=standing)
                if high - low > _SAME_MM:
                    yield cell, other, standing


def _near(starts: dict[int, list[Cell]], key: int) -> Iterator[Cell]:
    for one in (key - 1, key, key + 1):
        yield from starts.get(one, ())


def shared(one: Rect, other: Rect, *, standing: bool) -> tuple[float, float]:
    """The stretch along an upright (or lying) seam that both rectangles have."""
    if standing:
        return max(one.top, other.top), min(one.bottom, other.bottom)
    return max(one.left, other.left), min(one.right, other.right)


def pieces_of(
    cells: tuple[Cell, ...], page: PageArea, cost_map: CostMap, lap_mm: float, *, first_page: int
) -> tuple[Piece, ...]:
    """Pieces in page order, with lap, place on the page and neighbours.

    `first_page` is the page of the pack that the first of them is printed on.
    """
    neighbours = _neighbours(cells)
    pieces = []
    for number, cell in enumerate(cells):
        rect = cell.rect_mm
        lap_right = lap_mm if rect.right < cost_map.width_mm - _SAME_MM else 0.0
        lap_bottom = lap_mm if rect.bottom < cost_map.height_mm - _SAME_MM else 0.0
        whole = Rect(rect.left, rect.top, rect.width + lap_right, rect.height + lap_bottom)
        pieces.append(
            Piece(
                label=cell.label,
                page=first_page + number,
                row=cell.row,
                column=cell.column,
                picture_rect_mm=whole,
                lap_right_mm=lap_right,
                lap_bottom_mm=lap_bottom,
                sheet_rect_mm=page.place(whole.width, whole.height, turned=cell.turned),
                turned_deg=90 if cell.turned else 0,
                neighbours=neighbours[cell.label],
            )
        )
    return tuple(pieces)


def _neighbours(cells: tuple[Cell, ...]) -> dict[str, dict[Edge, tuple[str, ...]]]:
    found: dict[str, dict[Edge, list[str]]] = {
        cell.label: {"top": [], "right": [], "bottom": [], "left": []} for cell in cells
    }
    for first, second, standing in touching(cells):
        found[first.label]["right" if standing else "bottom"].append(second.label)
        found[second.label]["left" if standing else "top"].append(first.label)
    return {
        label: {edge: tuple(labels) for edge, labels in edges.items()}
        for label, edges in found.items()
    }


def seams_of(cells: tuple[Cell, ...], cost_map: CostMap) -> tuple[Seam, ...]:
    """Every stretch where two pieces meet, with the line that tape along it would hide."""
    lying = cost_map.transposed()
    seams = []
    for first, second, standing in touching(cells):
        low, high = shared(first.rect_mm, second.rect_mm, standing=standing)
        at_mm = second.rect_mm.left if standing else second.rect_mm.top
        line = (cost_map if standing else lying).line_along(np.asarray([at_mm]), low, high)
        seams.append(
            Seam(
                between=(first.label, second.label),
                from_mm=(at_mm, low) if standing else (low, at_mm),
                to_mm=(at_mm, high) if standing else (high, at_mm),
                line_mm=float(line[0]),
            )
        )
    return tuple(seams)
