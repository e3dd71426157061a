"""Lines of what is built, given by their corners, for tests of what belongs to what."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from tests.unit.picture.outline.given_lines import along
from worker.picture.outline.built.belonging import BuiltLines
from worker.picture.outline.polylines import Floats, Polylines

#: A wall that is 200 mm wide, so that nothing near its middle is near its edge.
SIZE_MM = (200.0, 200.0)
Way = Sequence[tuple[float, float]]


def way(corners: Way) -> Floats:
    """Places half a millimetre apart."""
    parts = [along(one, two) for one, two in pairwise(corners)]
    return np.concatenate([parts[0], *(part[1:] for part in parts[1:])])


def waving(start: tuple[float, float], long_mm: float, high_mm: float = 4.0) -> Floats:
    """Places of a bent line from left to right."""
    x = np.arange(0.0, long_mm, 0.5)
    return np.stack((start[0] + x, start[1] + high_mm * np.sin(x / 4)), axis=1)


def built_lines(
    *lines: Way | Floats,
    bent: Sequence[int] = (),
    worth: float = 0.5,
    bounding: float = 0.0,
    others: Sequence[Way] = (),
) -> BuiltLines:
    """Lines, all ruled but for some; and frames."""
    drawn = Polylines.of([way(line) if isinstance(line, list) else line for line in lines])
    return BuiltLines(
        lines=drawn,
        straight=~np.isin(drawn.owner, bent),
        worth=np.full(len(lines), worth),
        bounding=np.full(len(lines), bounding),
        others=Polylines.of([way(other) for other in others]),
        size_mm=SIZE_MM,
    )
