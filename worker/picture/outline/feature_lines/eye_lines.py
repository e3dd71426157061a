"""Eyes as a draughtsman draws them: one line for either lid, and of an iris what lies between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.irises import SEEN, Doubles, Iris, steps_at, turned
from worker.picture.outline.contours.features.lid_shapes import Lids
from worker.picture.outline.points.sampled_picture import Bytes, PixelGrid
from worker.picture.outline.polylines import Polylines
from worker.spec.strokes import INNER, PLAIN

#: Places along the whole circle. It is drawn where it is seen on the mean of some places, over so
#: many of them.
_AROUND, _MEAN_OF, _LEAST_ARC = 96, 7, 9


@dataclass(frozen=True, kw_only=True)
class FeatureLines:
    """Lines of features.

    Attributes:
        lines: In mm of the picture.
        weight: (lines,) of each; the upper lid, which has the lashes, and the iris weigh more
            than the lower lid.
    """

    lines: Polylines
    weight: npt.NDArray[np.uint8]


def eye_lines(
    irises: tuple[Iris, ...], lids: tuple[Lids, ...], grey: Bytes, grid: PixelGrid
) -> FeatureLines:
    """Irises and lids as they are drawn.

    Args:
        irises: Circles that were found.
        lids: Those around some of them.
        grey: The picture on its grid.
        grid: The grid.
    """
    known = {one.iris: one for one in lids}
    drawn: list[tuple[Doubles, int]] = []
    for iris in irises:
        lid = known.get(iris)
        drawn += [(arc, PLAIN) for arc in _arcs(iris, lid, grey)]
        if lid is not None:
            upper, lower = lid.lines()
            drawn += [(upper, PLAIN), (lower, INNER)]
    return as_lines(drawn, grid)


def as_lines(drawn: list[tuple[Doubles, int]], grid: PixelGrid) -> FeatureLines:
    """Lines of places of a grid with their weights, in mm."""
    places = np.concatenate([np.zeros((0, 2)), *(line for line, _ in drawn)])
    lines = Polylines(
        places=(places + 0.5) * (grid.across_mm, grid.down_mm),
        first=np.cumsum([0, *(len(line) for line, _ in drawn)]).astype(np.int64),
        closed=np.array([bool((line[0] == line[-1]).all()) for line, _ in drawn], np.bool_),
    )
    return FeatureLines(lines=lines, weight=np.array([kind for _, kind in drawn], np.uint8))


def _arcs(iris: Iris, lid: Lids | None, grey: Bytes) -> list[Doubles]:
    """What is seen of the circle, as lines of places."""
    # It begins at the top, which a lid covers as a rule.
    angles = np.linspace(0, 2 * np.pi, _AROUND, endpoint=False) - np.pi / 2
    across, down = np.cos(angles), np.sin(angles)
    if lid is None:
        circle = turned(across, down, iris.level) * iris.radius + (iris.x, iris.y)
        seen = _stepping(iris, angles, grey)
    else:
        circle, seen = lid.on_grid(across, down), lid.between(across, down)
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


def _stepping(iris: Iris, angles: Doubles, grey: Bytes) -> npt.NDArray[np.bool_]:
    """Where the circle steps from dark to light."""
    middle = np.array((iris.x, iris.y))
    steps = steps_at(grey, middle, iris.radius, angles, iris.level)
    half = _MEAN_OF // 2
    around = np.concatenate((steps[-half:], steps, steps[:half]))
    steps = np.convolve(around, np.full(_MEAN_OF, 1 / _MEAN_OF), "valid")
    return np.asarray(steps > SEEN * iris.step)
