"""Ways by which outer contours are closed, and which of them are drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.closing.painted_lines import PaintedLines
from worker.picture.outline.closing.way_strips import Complex, Doubles, steps_along

#: A way runs beside a line that is so near on one side, in pixels of the map, over this part of it;
#: but for so many columns at its ends.
_BESIDE_PX, _MOSTLY, _LANDING = 5.0, 0.4, 5
#: So far from its ends a way touches no line; and ways are in cells of so many pixels of the map
#: that neither are the same nor touch.
_TOUCHES_PX, _APART_PX = 3.0, 2.0

_Ints = npt.NDArray[np.int64]
_Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class OuterWays:
    """Ways from ends of lines to others.

    Attributes:
        end: The place that is an end.
        met: The place that the way comes to.
        likely: In the mean, 0 to 1.
        way: (ways, columns) x + iy in pixels of the maps of the whole, from the end to there.
    """

    end: _Ints
    met: _Ints
    likely: Doubles
    way: Complex

    def taken(self, which: _Flags) -> OuterWays:
        """Some of them."""
        return OuterWays(**{name: getattr(self, name)[which] for name in self.__dataclass_fields__})

    def apart(self, lines: PaintedLines) -> OuterWays:
        """Those that touch no line but where they end, and run beside none."""
        way = self.way
        far = np.minimum(np.abs(way - way[:, :1]), np.abs(way - way[:, -1:]))
        column, row = (np.rint(part).astype(np.int64) for part in (way.real, way.imag))
        touches = np.zeros(way.shape, np.bool_)
        for down, across in ((0, 0), (0, 1), (1, 0), (0, -1), (-1, 0)):
            touches |= lines.at(column + across, row + down) >= 0
        met = (touches & (far > _TOUCHES_PX)).any(axis=1)
        return self.taken(~met & ~self._beside(lines))

    def _beside(self, lines: PaintedLines) -> _Flags:
        """Which ways have a line beside them, but near where they end."""
        way, middle = self.way, slice(_LANDING, -_LANDING)
        across = 1j * steps_along(way)
        found = np.zeros(len(way), np.bool_)
        for sign in (-1, 1):
            near = np.zeros(way.shape, np.bool_)
            for aside in np.arange(1.0, _BESIDE_PX, 0.7):
                there = way + sign * aside * across
                column, row = (np.rint(part).astype(np.int64) for part in (there.real, there.imag))
                near |= lines.at(column, row) >= 0
            found |= near[:, middle].mean(axis=1) > _MOSTLY
        return np.asarray(found)

    def chosen(self) -> OuterWays:
        """The likeliest, each end once, and none across another nor next to it."""
        used: set[int] = set()
        taken: set[tuple[int, int]] = set()
        chosen = np.zeros(len(self.end), np.bool_)
        for number in np.argsort(-self.likely, kind="stable").tolist():
            way = self.way[number] / _APART_PX
            cells = set(zip(np.rint(way.real).tolist(), np.rint(way.imag).tolist(), strict=True))
            ends = {int(self.end[number]), int(self.met[number])}
            if ends & used or cells & taken:
                continue
            used |= ends
            taken |= {
                (x + right, y + down)
                for x, y in cells
                for right in (-1, 0, 1)
                for down in (-1, 0, 1)
            }
            chosen[number] = True
        return self.taken(chosen)
