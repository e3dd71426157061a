"""Which lines are spots of light or colour upon a form, and no part of it.

A polished spoon and a wet eye mirror what is around in short curved edges. A draughtsman leaves
them white, with a few of the folds and seams that go on in other lines (common practice). Such a
line bounds nothing, hangs on nothing, and is short. What is straight may be of something built.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.detected_points import DetectedPoints
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.nearness import pairs_within

#: A line is an inner one if it bounds something less likely than this, and a ring than the second;
#: but none that is a mark more likely than this, as a mouth or a fold.
_OUTER, _RING, _MARK = 0.3, 0.2, 0.3
#: It is short by its likelihood if nothing meets its ends within so much, or one of them.
_SHORT_MM, _MEETS_MM = (30.0, 12.0, 0.0), 2.0
#: It is curved if its ends are nearer to each other than this, in its lengths.
_CURVED = 0.93
#: What is more than this of plain forms is of a drawing.
_PLAIN = 0.5


def inner_scraps(
    detected: DetectedPoints, chains: Chains, *, texture: float
) -> npt.NDArray[np.bool_]:
    """Which lines are; outside of faces, which have rules of their own.

    Args:
        detected: All points.
        chains: Lines that are drawn.
        texture: How far texture is wanted, 0 to 1: where all is, nothing is a scrap.
    """
    points, evidence = detected.points, detected.evidence
    pitch_mm = detected.grid.pitch_mm
    long_px = chains.lengths(points.x, points.y)
    first, last = chains.order[chains.first[:-1]], chains.order[chains.first[1:] - 1]
    apart_px = np.hypot(points.x[last] - points.x[first], points.y[last] - points.y[first])
    worth_mm = chains.means(evidence.contour) * long_px * np.float32(pitch_mm)
    least = np.where(chains.closed, np.float32(_RING), np.float32(_OUTER))
    found = chains.means(evidence.outer) < least
    found &= (chains.means(evidence.mark) < _MARK) & (chains.means(evidence.plain) < _PLAIN)
    found &= (chains.means(evidence.face_px) == 0) & (apart_px < np.float32(_CURVED) * long_px)
    found &= worth_mm < (1 - texture) * _SHORT_MM[0]
    meets = _meeting(detected, chains, found)
    found &= worth_mm < (1 - texture) * np.take(_SHORT_MM, meets)
    return np.asarray(found & (chains.means(evidence.sure) > 0))


def _meeting(
    detected: DetectedPoints, chains: Chains, which: npt.NDArray[np.bool_]
) -> npt.NDArray[np.int64]:
    """At how many of its ends each of some lines meets another."""
    found = np.zeros(len(chains), np.int64)
    ends = np.concatenate((chains.first[:-1][which], chains.first[1:][which] - 1))
    if len(ends):
        reach_px = _MEETS_MM / detected.grid.pitch_mm
        one, two = pairs_within(detected.points, chains.order[ends], chains.order, reach_px)
        others = chains.owner[ends[one]] != chains.owner[two]
        np.add.at(found, chains.owner[ends[np.unique(one[others])]], 1)
    return found
