"""The cutting job, thought of in rows, and the lengths that it cuts."""

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
    """What sheets are counted by: the picture's size, and how much one sheet carries.

    Attributes:
        width_mm, height_mm: The picture.
        capacities_mm, lap_mm: As those of `CuttingProblem`.
    """

    width_mm: float
    height_mm: float
    capacities_mm: tuple[tuple[float, float], tuple[float, float]]
    lap_mm: float

    def transposed(self) -> CountingProblem:
        """The same with rows and columns changed over."""
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
    """What is to be partitioned, thought of in rows.

    Attributes:
        ground: The picture as seams see it.
        capacities_mm: Largest piece, (width, height), upright and turned.
        lap_mm: How far pieces reach under their right and lower neighbours.
        quiet: Whether seams look for little line, or split evenly.
    """

    cost_map: CostMap
    capacities_mm: tuple[tuple[float, float], tuple[float, float]]
    lap_mm: float
    quiet: bool

    @property
    def counting(self) -> CountingProblem:
        """The job without what lies on the picture."""
        return CountingProblem(
            width_mm=self.cost_map.width_mm,
            height_mm=self.cost_map.height_mm,
            capacities_mm=self.capacities_mm,
            lap_mm=self.lap_mm,
        )

    def transposed(self) -> CuttingProblem:
        """The same job with rows and columns changed over."""
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
    """The job of cutting a picture into pieces for a page."""
    return CuttingProblem(
        cost_map=cost_map, capacities_mm=_capacities(page), lap_mm=lap_mm, quiet=quiet
    )


def counting_problem(
    picture_mm: tuple[float, float], page: PageArea, *, lap_mm: float
) -> CountingProblem:
    """What sheets are counted by where a picture (width, height) is cut for a page."""
    width_mm, height_mm = picture_mm
    return CountingProblem(
        width_mm=width_mm, height_mm=height_mm, capacities_mm=_capacities(page), lap_mm=lap_mm
    )


def _capacities(page: PageArea) -> tuple[tuple[float, float], tuple[float, float]]:
    return page.capacity(turned=False), page.capacity(turned=True)
