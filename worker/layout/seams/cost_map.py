"""What a seam costs: the line that tape along it would hide, and what it would cross.

Line to trace is counted and contrast is not: what tape covers cannot be traced, faint or strong.
An eye outweighs any line, and a protected area any number of eyes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.layout.seams.cuts import CROSSING_COST, EYE_COST, CutCost
from worker.layout.traced_line import TracedLine
from worker.spec.plan import Rect

#: Bits of tape are laid across the joint and grip this far in all, half on either piece.
TAPE_ACROSS_MM = 20.0
#: They are cut from a roll of about this width, which lies along the seam.
TAPE_ALONG_MM = 15.0

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class CostMap:
    """A picture's line to trace, eyes and protected areas, in millimetres, as costs of seams.

    All methods are for vertical seams; horizontal ones are vertical in the transposed map.
    """

    traced: TracedLine
    protected: tuple[Rect, ...]

    @property
    def width_mm(self) -> float:
        """Width of the picture."""
        return self.traced.length.width_mm

    @property
    def height_mm(self) -> float:
        """Height of the picture."""
        return self.traced.length.height_mm

    def transposed(self) -> CostMap:
        """The same map with rows and columns exchanged."""
        turned = tuple(Rect(r.top, r.left, r.height, r.width) for r in self.protected)
        return CostMap(self.traced.transposed(), turned)

    def line_along(self, at_mm: Floats, top_mm: float, bottom_mm: float) -> Floats:
        """Line under a band of tape along vertical seams at these places, in mm."""
        half = TAPE_ACROSS_MM / 2
        return self.traced.length.in_columns(at_mm - half, at_mm + half, top_mm, bottom_mm)

    def worth_along(self, at_mm: Floats, top_mm: float, bottom_mm: float) -> Floats:
        """What that line counts for, and the eyes that are cut."""
        return self._worth(top_mm, bottom_mm)(at_mm)

    def _worth(self, top_mm: float, bottom_mm: float) -> CutCost:
        half, line = TAPE_ACROSS_MM / 2, self.traced.weighed.between(top_mm, bottom_mm)

        def of(at_mm: Floats) -> Floats:
            eyes = EYE_COST * _crossed(self.traced.eyes, at_mm, top_mm, bottom_mm)
            return line(at_mm - half, at_mm + half) + eyes

        return of

    def crossings(self, at_mm: Floats, top_mm: float, bottom_mm: float) -> Floats:
        """How many protected areas vertical seams at these places cross."""
        return _crossed(self.protected, at_mm, top_mm, bottom_mm)

    def cost(
        self,
        top_mm: float,
        bottom_mm: float,
        *,
        quiet: bool,
        barred: tuple[tuple[float, float], ...] = (),
    ) -> CutCost:
        """The cost function of vertical seams between two heights.

        Args:
            top_mm: Where the seams begin.
            bottom_mm: Where they end.
            quiet: Whether line and eyes count; if not, only protected areas do.
            barred: Open intervals in which no seam may lie.
        """
        worth = self._worth(top_mm, bottom_mm) if quiet else None

        def of(at_mm: Floats) -> Floats:
            costs = CROSSING_COST * self.crossings(at_mm, top_mm, bottom_mm)
            if worth:
                costs += worth(at_mm)
            for low, high in barred:
                costs[(at_mm > low) & (at_mm < high)] = np.inf
            return costs

        return of


def _crossed(areas: tuple[Rect, ...], at_mm: Floats, top_mm: float, bottom_mm: float) -> Floats:
    count = np.zeros_like(at_mm)
    for area in areas:
        if area.top < bottom_mm and area.bottom > top_mm:
            count += (at_mm > area.left) & (at_mm < area.right)
    return count
