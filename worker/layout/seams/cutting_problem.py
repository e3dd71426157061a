"""The cutting problem in rows: a picture, the largest pieces, and the lengths to cut."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from worker.layout.page_area import PageArea
from worker.layout.seams.cost_map import CostMap
from worker.layout.seams.cuts import LengthToCut

#: A narrower piece is hard to trim and to join (common practice).
SHORTEST_PIECE_MM = 40.0
#: The two kinds of row: of upright and of turned pieces.
UPRIGHT, TURNED = 0, 1
_EPSILON = 1e-9


@dataclass(frozen=True, kw_only=True)
class CountingProblem:
    """The part of a cutting problem that sheets are counted with; it ignores what is pictured.

    Attributes:
        width_mm, height_mm: Size of the picture.
        capacities_mm: Largest piece, (width, height), upright and turned.
        lap_mm: How far pieces reach under their right and lower neighbours.
    """

    width_mm: float
    height_mm: float
    capacities_mm: tuple[tuple[float, float], tuple[float, float]]
    lap_mm: float

    def transposed(self) -> CountingProblem:
        """The same problem with rows and columns exchanged."""
        (w0, h0), (w1, h1) = self.capacities_mm
        return CountingProblem(
            width_mm=self.height_mm,
            height_mm=self.width_mm,
            capacities_mm=((h0, w0), (h1, w1)),
            lap_mm=self.lap_mm,
        )

    def fewest(self, length_mm: float, capacity_mm: float) -> int:
        """How many pieces of this capacity a length takes."""
        advance_mm = capacity_mm - self.lap_mm
        return max(1, math.ceil((length_mm - self.lap_mm) / advance_mm - _EPSILON))

    def sliver_free(self, length_mm: float, count: int) -> bool:
        """Whether so many pieces can all be wide enough to handle."""
        return (length_mm - self.lap_mm) / count >= SHORTEST_PIECE_MM


@dataclass(frozen=True, kw_only=True)
class CuttingProblem:
    """A picture to be cut into rows of pieces.

    Attributes:
        cost_map: What a seam costs at each place of the picture.
        capacities_mm: Largest piece, (width, height), upright and turned.
        lap_mm: How far pieces reach under their right and lower neighbours.
        quiet: Whether seams follow the least line; if not, the picture is split evenly.
    """

    cost_map: CostMap
    capacities_mm: tuple[tuple[float, float], tuple[float, float]]
    lap_mm: float
    quiet: bool

    @property
    def counting(self) -> CountingProblem:
        """The problem without the cost map."""
        return CountingProblem(
            width_mm=self.cost_map.width_mm,
            height_mm=self.cost_map.height_mm,
            capacities_mm=self.capacities_mm,
            lap_mm=self.lap_mm,
        )

    def transposed(self) -> CuttingProblem:
        """The same problem with rows and columns exchanged."""
        (w0, h0), (w1, h1) = self.capacities_mm
        return replace(
            self, cost_map=self.cost_map.transposed(), capacities_mm=((h0, w0), (h1, w1))
        )

    def across(self, kind: int, count: int) -> LengthToCut:
        """The width, cut into `count` pieces of one kind."""
        return self._length(self.cost_map.width_mm, (self.capacities_mm[kind][0],), (count,))

    def down(self, counts: tuple[int, int]) -> LengthToCut:
        """The height, cut into rows of upright and of turned pieces."""
        heights = (self.capacities_mm[UPRIGHT][1], self.capacities_mm[TURNED][1])
        return self._length(self.cost_map.height_mm, heights, counts)

    def _length(
        self, length_mm: float, capacities_mm: tuple[float, ...], counts: tuple[int, ...]
    ) -> LengthToCut:
        fullest = (mm - self.lap_mm for mm, n in zip(capacities_mm, counts, strict=True) if n)
        shortest_mm = min(SHORTEST_PIECE_MM, (length_mm - self.lap_mm) / sum(counts), *fullest)
        return LengthToCut(
            length_mm=length_mm,
            capacities_mm=capacities_mm,
            counts=counts,
            shortest_mm=shortest_mm,
            lap_mm=self.lap_mm,
        )


def cutting_problem(
    cost_map: CostMap, page: PageArea, *, lap_mm: float, quiet: bool
) -> CuttingProblem:
    """The problem of cutting a picture into pieces for a page."""
    return CuttingProblem(
        cost_map=cost_map, capacities_mm=_capacities(page), lap_mm=lap_mm, quiet=quiet
    )


def counting_problem(
    picture_mm: tuple[float, float], page: PageArea, *, lap_mm: float
) -> CountingProblem:
    """The counting problem of a picture (width, height) and a page."""
    width_mm, height_mm = picture_mm
    return CountingProblem(
        width_mm=width_mm, height_mm=height_mm, capacities_mm=_capacities(page), lap_mm=lap_mm
    )


def _capacities(page: PageArea) -> tuple[tuple[float, float], tuple[float, float]]:
    return page.capacity(turned=False), page.capacity(turned=True)
