"""Arches on outer contours, which are hair or a fringe that stands off.

A draughtsman draws one contour of a head or an arm, and none of the loose hair outside of it
(common practice).
"""

from __future__ import annotations

from operator import itemgetter

import numpy as np
import numpy.typing as npt

from worker.picture.outline.detected_points import DetectedPoints
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points

#: An arch is of what is behind if what the picture is of is less likely than this there, and is
#: likelier by the second on the contour that it stands on.
_BEHIND, _LESS = 0.3, 0.35
#: That contour bounds the subject so surely, and the arch less so.
_BOUNDS = 0.5
#: The arch is doubtful, and no longer than so many mm and than the contour below it by this.
_SURELY, _LONG_MM, _LONGER = 0.9, 80.0, 1.6

_Ints = npt.NDArray[np.int64]
_Flags = npt.NDArray[np.bool_]


def outer_arches(detected: DetectedPoints, chains: Chains) -> _Flags:
    """Which lines are such arches.

    Args:
        detected: All points.
        chains: Lines that are drawn; an arch begins and ends at points of one of them.
    """
    points, prominence = detected.points, detected.prominence
    found = np.zeros(len(chains), np.bool_)
    inner = np.ones(len(chains.order), np.bool_)
    # A closed contour has no ends: it may begin where an arch does.
    inner[chains.first[:-1][~chains.closed]] = inner[chains.first[1:] - 1] = False
    place = np.full(len(points), -1, np.int64)
    place[chains.order[inner]] = np.flatnonzero(inner)
    one, two = place[chains.order[chains.first[:-1]]], place[chains.order[chains.first[1:] - 1]]
    owner = chains.owner
    same = (one >= 0) & (two >= 0) & (owner[one] == owner[two])
    same &= (owner[one] != np.arange(len(chains))) & ~chains.closed
    length = chains.lengths(points.x, points.y)
    same &= length * detected.grid.pitch_mm < np.float32(_LONG_MM)
    same &= chains.means(detected.evidence.contour) < np.float32(_SURELY)
    same &= chains.means(prominence.bounds) < np.float32(_BOUNDS)
    for line in np.flatnonzero(same).tolist():
        below, below_px = _between(points, chains, int(one[line]), int(two[line]))
        arch = chains.order[chains.first[line] : chains.first[line + 1]]
        main, other = (
            float(detected.placed.subject(points.x[at], points.y[at]).mean())
            for at in (below, arch)
        )
        bounds = float(prominence.bounds[below].mean()) > _BOUNDS
        short = length[line] < _LONGER * below_px
        found[line] = bounds and short and other < _BEHIND and main - other > _LESS
    return found


def _between(points: Points, chains: Chains, one: int, two: int) -> tuple[_Ints, float]:
    """The points of a line between two of its places, and how long it is there, in pixels.

    Of a closed line it is the shorter way round.
    """
    low, high = min(one, two), max(one, two)
    line, ways = chains.owner[low], [chains.order[low : high + 1]]
    if chains.closed[line]:
        first, last = chains.first[line], chains.first[line + 1] - 1
        ways.append(np.concatenate((chains.order[high:last], chains.order[first : low + 1])))
    lengths = [
        float(np.hypot(np.diff(points.x[way]), np.diff(points.y[way])).sum()) for way in ways
    ]
    return min(zip(ways, lengths, strict=True), key=itemgetter(1))
