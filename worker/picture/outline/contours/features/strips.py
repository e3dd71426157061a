"""Strips of a picture beside curves.

Landmarks say within a percent or two of a face where a lid or a lip is; exactly where, the
picture says. So it is sampled across the curve all along it, and the course of the line is sought
in that strip (`courses`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles, Ints, fair
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.points.gaussian import Floats, box_mean
from worker.reading.planes import looking

#: How finely strips are sampled across, in sides.
ACROSS = 0.003
#: How far a line is from landmarks as a rule, in sides, and how much it counts to be so far.
_USUAL, _USUAL_COUNTS = 0.011, 0.3


@dataclass(frozen=True, kw_only=True, eq=False)
class Strip:
    """What lies beside a curve; rows go from above it to below.

    Attributes:
        part: Of the face.
        curve: (columns, 2) places along it.
        normal: (columns, 2): the way down.
        reach: Rows on either side.
        step: From row to row, in pixels of the part.
    """

    part: FacePart
    curve: Doubles
    normal: Doubles
    reach: int
    step: float

    def of(self, values: Floats) -> Floats:
        """Values of the part, (rows, columns), smoothed a little."""
        return box_mean(self._looks(values), 1)

    def places(self, rows: Doubles, columns: Ints | slice = slice(None)) -> Doubles:
        """Places of the part in some row of each column, or of some columns."""
        off = ((rows - self.reach) * self.step)[:, None] * self.normal[columns]
        return np.asarray(self.curve[columns] + off)

    def grid(self) -> Doubles:
        """Places of the part of all rows and columns, (rows, columns, 2)."""
        rows = np.arange(-self.reach, self.reach + 1) * self.step
        return np.asarray(self.curve + rows[:, None, None] * self.normal)

    @cached_property
    def _looks(self) -> Callable[[Floats], Floats]:
        """Looks up values of the part in all rows and columns."""
        x, y = np.moveaxis(self.grid(), -1, 0).astype(np.float32)
        return looking(self.part.shape, x, y)

    def reversed(self) -> Strip:
        """The same from its last column to its first."""
        return replace(self, curve=self.curve[::-1], normal=self.normal[::-1])

    @property
    def usual(self) -> Doubles:
        """How much it counts against a line to be so far from landmarks: (rows, 1)."""
        return np.asarray(_USUAL_COUNTS * (self.far[:, None] / _USUAL) ** 2)

    @property
    def far(self) -> Doubles:
        """How far each row is from the curve, in sides."""
        rows = np.arange(-self.reach, self.reach + 1) * self.step
        return np.asarray(rows / self.part.side, np.float64)


def strip(part: FacePart, curve: Doubles, reach: float, across: float = ACROSS) -> Strip:
    """That beside a curve, so far to either side in sides."""
    way = np.gradient(curve, axis=0)
    way /= np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    step = across * part.side
    return Strip(
        part=part,
        curve=curve,
        normal=np.stack((-way[:, 1], way[:, 0]), axis=1),
        reach=round(reach / across),
        step=step,
    )


def smooth_curve(marks: Doubles, count: int) -> Doubles:
    """A fair curve through landmarks, with so many evenly spaced places."""
    steps = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(marks, axis=0).T))))
    at, waves = np.linspace(0, steps[-1], count), count / (len(marks) - 1)
    return np.stack([fair(np.interp(at, steps, one), waves, held=True) for one in marks.T], axis=1)


def moved(values: Floats, rows: int) -> Floats:
    """The value so many rows below each place; the last ones go on."""
    return values[np.clip(np.arange(len(values)) + rows, 0, len(values) - 1)]


def extended(curve: Doubles, start: int, end: int) -> Doubles:
    """A curve that goes straight on beyond its ends, by so many places."""
    third = len(curve) // 3
    parts = []
    for ends, count in ((curve[: third + 1][::-1], start), (curve[-third - 1 :], end)):
        step = (ends[-1] - ends[0]) / third
        parts.append(ends[-1] + step * np.arange(1, count + 1)[:, None])
    return np.concatenate((parts[0][::-1], curve, parts[1]))


def valley(values: Floats, far: int) -> Floats:
    """How much darker each place is than both so many rows above and below."""
    return np.minimum(moved(values, -far), moved(values, far)) - values
