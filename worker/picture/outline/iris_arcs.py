"""Irises as the arcs between the lids that a draughtsman draws."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.irises import SEEN, Iris, steps_at, turned
from worker.picture.outline.points.sampled_picture import Bytes, PixelGrid
from worker.picture.outline.polylines import Polylines

#: Places along the whole circle. It is drawn where it is seen on the mean of some places, over so
#: many of them.
_AROUND, _MEAN_OF, _LEAST_ARC = 96, 7, 9

Doubles = npt.NDArray[np.float64]


def iris_arcs(found: tuple[Iris, ...], grey: Bytes, grid: PixelGrid) -> Polylines:
    """Their arcs between the lids, in mm of the picture."""
    lines = [arc for iris in found for arc in _arcs(iris, grey)]
    counts = [len(line) for line in lines]
    places = np.concatenate([np.zeros((0, 2)), *lines])
    return Polylines(
        places=(places + 0.5) * (grid.across_mm, grid.down_mm),
        first=np.concatenate(([0], np.cumsum(counts))).astype(np.int64),
        closed=np.array([bool((line[0] == line[-1]).all()) for line in lines], np.bool_),
    )


def _arcs(iris: Iris, grey: Bytes) -> list[Doubles]:
    """Where the circle steps, as lines of places."""
    # It begins at the top, which a lid covers as a rule.
    angles = np.linspace(0, 2 * np.pi, _AROUND, endpoint=False) - np.pi / 2
    middle = np.array((iris.x, iris.y))
    steps = steps_at(grey, middle, iris.radius, angles, iris.level)
    half = _MEAN_OF // 2
    around = np.concatenate((steps[-half:], steps, steps[:half]))
    steps = np.convolve(around, np.full(_MEAN_OF, 1 / _MEAN_OF), "valid")
    seen = steps > SEEN * iris.step
    circle = middle + turned(np.cos(angles), np.sin(angles), iris.level) * iris.radius
    if seen.all():
        return [np.concatenate((circle, circle[:1]))]
    start = int(np.flatnonzero(~seen)[0])
    circle, seen = np.roll(circle, -start, axis=0), np.roll(seen, -start)
    change = np.flatnonzero(np.diff(seen.astype(np.int8), prepend=0, append=0))
    return [
        circle[first:last]
        for first, last in zip(change[::2], change[1::2], strict=True)
        if last - first >= _LEAST_ARC
    ]
