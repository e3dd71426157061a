"""What lids are: two curves that meet in the corners of an eye, around an iris."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.irises import Doubles, Iris, turned
from worker.picture.outline.points.gaussian import Floats

#: What is looked at around an iris: so far across, in its radii.
ACROSS = 4.0
#: What lies so far above and below lids, and beside corners, is theirs.
_ABOVE, _UNDERNEATH, _ASIDE = 0.5, 0.4, 0.3
#: Places of each curve that is drawn.
_DRAWN = 33

#: Of lids: how far down the left and the right corner are, and the arches of both lids.
Shape = tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True)
class Lids:
    """Both lids of one eye, in radii of its iris, from its middle.

    Attributes:
        iris: The iris between them.
        hand: -1 in a mirrored picture, where down is to the other side of level; else 1.
        left, right: Corners: across and down.
        upper, lower: How far each arches, up or down, and its skew.
    """

    iris: Iris
    hand: float
    left: tuple[float, float]
    right: tuple[float, float]
    upper: tuple[float, float]
    lower: tuple[float, float]

    def curves(self, across: Doubles) -> tuple[Doubles, Doubles]:
        """How far down the upper and the lower lid are at places across; level beside corners."""
        (left, left_down), (right, right_down) = self.left, self.right
        share = np.clip(2 * (across - left) / (right - left) - 1, -1, 1)
        chord = (left_down + right_down) / 2 + share * (right_down - left_down) / 2
        return chord - arched(share, *self.upper), chord + arched(share, *self.lower)

    def seen_from(self, x: Floats, y: Floats) -> Doubles:
        """Across and down of places of the grid, in radii: (places, 2)."""
        off_x, off_y = x.astype(np.float64) - self.iris.x, y.astype(np.float64) - self.iris.y
        off = turned(off_x, off_y, -self.iris.level)
        return np.asarray(off * (1, self.hand) / self.iris.radius)

    def on_grid(self, across: Doubles, down: Doubles) -> Doubles:
        """Places of the grid, from across and down: (places, 2)."""
        off = turned(across, self.hand * down, self.iris.level) * self.iris.radius
        return np.asarray(off + np.array((self.iris.x, self.iris.y)))

    def lines(self) -> tuple[Doubles, Doubles]:
        """The upper and the lower lid from corner to corner, on the grid: (places, 2) each."""
        across = np.linspace(self.left[0], self.right[0], _DRAWN)
        upper, lower = (self.on_grid(across, down) for down in self.curves(across))
        return upper, lower

    def between(self, across: Doubles, down: Doubles) -> npt.NDArray[np.bool_]:
        """Which places lie between the lids."""
        upper, lower = self.curves(across)
        return np.asarray((down > upper) & (down < lower))


def around(found: tuple[Lids, ...], x: Floats, y: Floats) -> npt.NDArray[np.bool_]:
    """Which places of the grid are of an eye whose lids are known: in it, or close to a lid."""
    within = np.zeros(len(x), np.bool_)
    for one in found:
        at = np.flatnonzero(np.hypot(x - one.iris.x, y - one.iris.y) < ACROSS * one.iris.radius)
        across, down = one.seen_from(x[at], y[at]).T
        upper, lower = one.curves(across)
        inside = (across > one.left[0] - _ASIDE) & (across < one.right[0] + _ASIDE)
        within[at] |= inside & (down > upper - _ABOVE) & (down < lower + _UNDERNEATH)
    return within


def arched(share: Doubles, height: Doubles | float, skew: Doubles | float) -> Doubles:
    """How far a lid is from its chord; `share` is -1 and 1 in the corners."""
    return np.asarray(height * (1 - share**2) * (1 + skew * share))
