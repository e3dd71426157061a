"""A picture cut into pieces: rows that run through, each cut across into pieces.

Seams that run through are horizontal here, those within a row are vertical. Staggering by
columns is the same on the transposed picture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from worker.layout.seams.cost_map import CostMap, Floats
from worker.spec.plan import Rect

#: Of vertical seams at some places, between two heights.
_Along = Callable[[Floats, float, float], Floats]


@dataclass(frozen=True, kw_only=True)
class Band:
    """One row of pieces.

    Attributes:
        top_mm, bottom_mm: Its place, from seam to seam.
        turned: Whether its pieces lie on their side on the page.
        cuts_mm: Where it is cut, ascending, without the two ends.
    """

    top_mm: float
    bottom_mm: float
    turned: bool
    cuts_mm: tuple[float, ...]

    @property
    def pieces(self) -> int:
        """How many pieces the row has."""
        return len(self.cuts_mm) + 1

    def edges(self, width_mm: float) -> tuple[float, ...]:
        """The cuts with the two ends."""
        return (0.0, *self.cuts_mm, width_mm)


@dataclass(frozen=True, kw_only=True)
class Partition:
    """All rows of a picture, from the top."""

    width_mm: float
    height_mm: float
    bands: tuple[Band, ...]

    @property
    def sheets(self) -> int:
        """How many pieces there are."""
        return sum(band.pieces for band in self.bands)

    @property
    def longest(self) -> int:
        """How many pieces the longest row has."""
        return max(band.pieces for band in self.bands)

    @property
    def aligned(self) -> bool:
        """Whether all rows are cut at the same places."""
        return len({band.cuts_mm for band in self.bands}) == 1

    def through_mm(self) -> tuple[float, ...]:
        """Heights of the seams that run through."""
        return tuple(band.bottom_mm for band in self.bands[:-1])

    def standing(self) -> Iterator[tuple[Band, float]]:
        """Every standing seam: its row and its place."""
        for band in self.bands:
            for at_mm in band.cuts_mm:
                yield band, at_mm

    def line_mm(self, cost_map: CostMap) -> float:
        """Line that tape along all seams would hide."""
        return self._along(cost_map.transposed().line_along, cost_map.line_along)

    def worth_mm(self, cost_map: CostMap) -> float:
        """What that line counts for, and the eyes that are cut."""
        return self._along(cost_map.transposed().worth_along, cost_map.worth_along)

    def crossed(self, cost_map: CostMap) -> tuple[int, ...]:
        """Which protected areas are crossed by a seam, by their index."""
        return self._through(cost_map.protected)

    def eyes_cut(self, cost_map: CostMap) -> int:
        """How many eyes a seam runs through."""
        return len(self._through(cost_map.traced.eyes))

    def _through(self, areas: tuple[Rect, ...]) -> tuple[int, ...]:
        """Which of these areas a seam runs through, by their index."""
        found = []
        for index, area in enumerate(areas):
            lying = any(area.top < at_mm < area.bottom for at_mm in self.through_mm())
            standing = any(
                area.left < at_mm < area.right
                and area.top < band.bottom_mm
                and area.bottom > band.top_mm
                for band, at_mm in self.standing()
            )
            if lying or standing:
                found.append(index)
        return tuple(found)

    def corners_meet(self, apart_mm: float = 1e-6) -> bool:
        """Whether four corners meet anywhere: cuts of neighbouring rows in one place."""
        return any(
            abs(one - other) < apart_mm
            for above, below in pairwise(self.bands)
            for one in above.cuts_mm
            for other in below.cuts_mm
        )

    def _along(self, lying: _Along, standing: _Along) -> float:
        """Sum over all seams of what lies along each."""
        through = np.asarray(self.through_mm(), dtype=np.float64)
        total = float(lying(through, 0.0, self.width_mm).sum())
        for band in self.bands:
            cuts = np.asarray(band.cuts_mm, dtype=np.float64)
            total += float(standing(cuts, band.top_mm, band.bottom_mm).sum())
        return total
