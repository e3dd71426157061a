"""What is missing of hairlines, where lines have most of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.feature_lines.bound_gaps import Joining, missing_parts
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points

#: Lines have a hairline where one runs as near, in sides, by this cosine. If they have so much of
#: it, what they have not even within the second distance is drawn.
_NEAR, _BESIDE, _ALONG, _HAD, _SEEN = 0.025, 0.06, 0.7, 0.5, 0.3

_GAPS = Joining(shortest=0.08, reaches=0.09, seen=0.65)

_Ints = npt.NDArray[np.int64]


def missing_hairlines(faces: Sequence[FoundFace], points: Points, chains: Chains) -> list[Doubles]:
    """Parts of hairlines that no line has, in pixels of the grid: (places, 2) each.

    Args:
        faces: Those whose features were found.
        points: All points.
        chains: Lines that are drawn.
    """
    found = []
    for face in faces:
        hair = face.hairline
        place, off = _along(hair.line, points, chains, _BESIDE * hair.side)
        had, beside = np.zeros((2, len(hair.line)), np.bool_)
        had[place[off < _NEAR * hair.side]] = True
        beside[place] = True
        if had.sum() > _HAD * (hair.seen > _SEEN).sum():
            found.append(replace(hair, seen=np.where(beside, np.float32(0), hair.seen)))
    return missing_parts(found, points, chains, _GAPS)


def _along(line: Doubles, points: Points, chains: Chains, near: float) -> tuple[_Ints, Doubles]:
    """Of lines that run along a line: by which place of it each of theirs, and how far off."""
    x, y = points.x[chains.order], points.y[chains.order]
    low, high = line.min(axis=0) - near, line.max(axis=0) + near
    at = np.flatnonzero((x > low[0]) & (x < high[0]) & (y > low[1]) & (y < high[1]))
    off = np.hypot(x[at, None] - line[:, 0], y[at, None] - line[:, 1])
    place = off.argmin(axis=1)
    off = off[np.arange(len(at)), place]
    way = np.gradient(line, axis=0)
    way /= np.hypot(*way.T)[:, None]
    point = chains.order[at]
    across = points.across_x[point] * way[place, 0] + points.across_y[point] * way[place, 1]
    along = (off < near) & (across * across < 1 - _ALONG * _ALONG)
    return place[along], off[along]
