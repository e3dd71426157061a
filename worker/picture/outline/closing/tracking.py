"""Follow a map from ends of lines, a pixel at a time, in the direction in which it has most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.gaussian import Floats
from worker.reading.planes import between_pixels
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

_Doubles = npt.NDArray[np.float64]
_Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Tracks:
    """Ways over a map, (ways, steps) each; the first step is where a way starts.

    Attributes:
        x, y: In pixels of the map.
        likely: What the map has there, 0 to 1; 0 at the first step.
        steps: (ways,) how many steps the map has something.
    """

    x: Floats
    y: Floats
    likely: Floats
    steps: _Ints


def tracked(values: Bytes, x: Floats, y: Floats, heading: Floats) -> Tracks:
    """Ways over a map.

    Args:
        values: The map.
        x: (ways,) where they start, in pixels of the map.
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
    for step in range(1, shape[1]):
        before = tracks.x[on, step - 1], tracks.y[on, step - 1]
        ahead = _best(values, *before, ahead, turns)
        x, y = before[0] + np.cos(ahead), before[1] + np.sin(ahead)
        likely = _sampled(values, x, y)
        tracks.x[on, step:], tracks.y[on, step:] = x[:, None], y[:, None]
        tracks.likely[on, step] = likely
        goes_on = (likely > np.float32(_LEAST)) & _within(values, x, y)
        on, ahead, turns = on[goes_on], ahead[goes_on], np.radians(_TURNS_DEG)
        tracks.steps[on] = step
    return tracks


def _best(values: Bytes, x: Floats, y: Floats, heading: Floats, turns: Floats) -> Floats:
    """The directions with most ahead."""
    angles: Floats = heading[:, None] + turns.astype(np.float32)
    far = np.arange(1, _AHEAD_MAP_PX + 1)
    at_x = x[:, None, None] + np.cos(angles)[..., None] * far
    at_y = y[:, None, None] + np.sin(angles)[..., None] * far
    most = _sampled(values, at_x, at_y).mean(axis=2) * (1 - _TURNED * (turns / turns[-1]) ** 2)
    return np.asarray(angles[np.arange(len(x)), np.argmax(most, axis=1)], np.float32)


def _sampled(values: Bytes, x: _Doubles | Floats, y: _Doubles | Floats) -> Floats:
    likely = between_pixels(values, np.asarray(x, np.float32), np.asarray(y, np.float32))
    return likely / np.float32(255)


def _within(values: Bytes, x: Floats, y: Floats) -> npt.NDArray[np.bool_]:
    rows, columns = values.shape
    return np.asarray((x >= 0) & (y >= 0) & (x <= columns - 1) & (y <= rows - 1))
