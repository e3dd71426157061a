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
from worker.picture.outline.points.nearness import ends_met

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
    apart_px = chains.spans(points.x, points.y)
    worth_mm = chains.means(evidence.contour) * long_px * np.float32(pitch_mm)
    least = np.where(chains.closed, np.float32(_RING), np.float32(_OUTER))
    found = chains.means(evidence.outer) < least
    found &= (chains.means(evidence.mark) < _MARK) & (chains.means(evidence.plain) < _PLAIN)
    found &= (chains.means(evidence.face_px) == 0) & (apart_px < np.float32(_CURVED) * long_px)
    found &= worth_mm < (1 - texture) * _SHORT_MM[0]
    meets = ends_met(points, chains, found, _MEETS_MM / pitch_mm)
    found &= worth_mm < (1 - texture) * np.take(_SHORT_MM, meets)
    return np.asarray(found & (chains.means(evidence.sure) > 0))
