"""Follow maps from ends of lines, a pixel at a time, in the direction in which they have most.

Of all maps at once: a few ways over each are hundreds of operations, however short ways are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.gaussian import Floats
from worker.reading.planes import looking
from worker.spec.reading import Bytes

#: The longest way, in pixels of the map; and how far ahead a direction is judged.
FAR_MAP_PX, _AHEAD_MAP_PX = 22, 3
#: Directions that are compared at each step, and at the first one, as lines turn where they end;
#: and how much less the outermost of them count.
_TURNS_DEG = (-38.0, -28.0, -18.0, -9.0, 0.0, 9.0, 18.0, 28.0, 38.0)
_FIRST_TURNS_DEG = (-55.0, -45.0, *_TURNS_DEG, 45.0, 55.0)
_TURNED = 0.35
#: A way ends where the map has less than this.
_LEAST = 0.12

_Ints = npt.NDArray[np.int64]
_Flags = npt.NDArray[np.bool_]
_Places = Floats | npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Tracks:
    """Ways over maps, (ways, steps) each; the first step is where a way starts.

    Attributes:
        x, y: In pixels of the map that it is over.
        likely: What the map has there, 0 to 1; 0 at the first step.
        steps: (ways,) how many steps the map has something.
    """

    x: Floats
    y: Floats
    likely: Floats
    steps: _Ints

    def taken(self, which: _Flags) -> Tracks:
        """Some of them."""
        return Tracks(
            x=self.x[which], y=self.y[which], likely=self.likely[which], steps=self.steps[which]
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Maps:
    """Maps end to end, and which of them each way is over.

    Attributes:
        values: Of all maps.
        first: (ways,) where the map of each begins.
        rows, columns: (ways,) of the map of each.
    """

    values: Bytes
    first: _Ints
    rows: _Ints
    columns: _Ints

    @classmethod
    def of(cls, maps: Sequence[Bytes], number: _Ints) -> _Maps:
        """Those that ways are over, by number."""
        rows, columns = np.array([each.shape for each in maps]).T
        ends = np.cumsum(rows * columns)
        return cls(
            values=np.concatenate([each.ravel() for each in maps]),
            first=(ends - rows * columns)[number],
            rows=rows[number],
            columns=columns[number],
        )

    def taken(self, which: _Flags) -> _Maps:
        """The same of some ways."""
        return _Maps(
            values=self.values,
            first=self.first[which],
            rows=self.rows[which],
            columns=self.columns[which],
        )

    def sampled(self, x: _Places, y: _Places) -> Floats:
        """What maps have, 0 to 1, at places of each way: (ways, ...)."""
        first, rows, columns = (
            each.reshape(-1, *(1 for _ in x.shape[1:]))
            for each in (self.first, self.rows, self.columns)
        )
        x, y = np.asarray(x, np.float32), np.asarray(y, np.float32)
        return looking((rows, columns), x, y, first)(self.values) / np.float32(255)

    def within(self, x: Floats, y: Floats) -> _Flags:
        """Which ways are in their maps, by one place of each."""
        inside = (x >= 0) & (y >= 0) & (x <= self.columns - 1) & (y <= self.rows - 1)
        return np.asarray(inside)


def tracked(maps: Sequence[Bytes], number: _Ints, x: Floats, y: Floats, heading: Floats) -> Tracks:
    """Ways over maps.

    Args:
        maps: All of them.
        number: (ways,) which map each is over.
        x: (ways,) where they start, in pixels of that map.
        y: The same, down.
        heading: (ways,) in which direction, in radians from x to y.
    """
    shape = (len(x), FAR_MAP_PX + 1)
    tracks = Tracks(
        x=np.repeat(x[:, None], shape[1], axis=1),
        y=np.repeat(y[:, None], shape[1], axis=1),
        likely=np.zeros(shape, np.float32),
        steps=np.zeros(len(x), np.int64),
    )
    on, ahead, turns = np.arange(len(x)), heading, np.radians(_FIRST_TURNS_DEG)
    over = _Maps.of(maps, number)
    for step in range(1, shape[1]):
        before = tracks.x[on, step - 1], tracks.y[on, step - 1]
        ahead = _best(over, *before, ahead, turns)
        x, y = before[0] + np.cos(ahead), before[1] + np.sin(ahead)
        likely = over.sampled(x, y)
        tracks.x[on, step:], tracks.y[on, step:] = x[:, None], y[:, None]
        tracks.likely[on, step] = likely
        goes_on = (likely > np.float32(_LEAST)) & over.within(x, y)
        on, ahead, turns = on[goes_on], ahead[goes_on], np.radians(_TURNS_DEG)
        over = over.taken(goes_on)
        tracks.steps[on] = step
    return tracks


def _best(over: _Maps, x: Floats, y: Floats, heading: Floats, turns: Floats) -> Floats:
    """The directions with most ahead."""
    angles: Floats = heading[:, None] + turns.astype(np.float32)
    far = np.arange(1, _AHEAD_MAP_PX + 1)
    at_x = x[:, None, None] + np.cos(angles)[..., None] * far
    at_y = y[:, None, None] + np.sin(angles)[..., None] * far
    most = over.sampled(at_x, at_y).mean(axis=2) * (1 - _TURNED * (turns / turns[-1]) ** 2)
    return np.asarray(angles[np.arange(len(x)), np.argmax(most, axis=1)], np.float32)
