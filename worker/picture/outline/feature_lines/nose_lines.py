"""What else is drawn around a nose than its line: of each shaft one side at most.

Light lies in spots and streaks on a shaft and a tip, whose edges are plain and no form. A
draughtsman draws the side of the shaft that turns into shade, in one long and smooth line, or none;
and on the round part below nothing but wings, base and nostrils. What lies between a nose and a
mouth is the shade of the lip, if it is no moustache that goes on beside it (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats

#: A line is one of a shaft if so much of it lies there. It is drawn if it is so long by its
#: likelihood, in sides of the face, and its ends are so far apart, in its lengths. What is left of
#: a line that was cut at the round part is drawn if it is so long.
_MOSTLY, _LONG, _SMOOTH, _LEFT = 0.6, 0.2, 0.8, 0.15

_Ints = npt.NDArray[np.int64]


def with_shafts(
    faces: Sequence[FoundFace], points: Points, chains: Chains, likely: Floats
) -> tuple[Chains, _Ints]:
    """Lines without what is on or below the round part of a nose; with one side of each shaft.

    Args:
        faces: Those whose features were found.
        points: All points.
        chains: Lines that are drawn.
        likely: How likely a person would draw a line at each point, 0 to 1.

    Returns:
        What is left, and the line that each was of.
    """
    of = np.arange(len(chains))
    for face in faces:
        if face.nose is None or not len(chains):
            continue
        x, y = points.x[chains.order], points.y[chains.order]
        many = np.diff(chains.first)
        chains, lines, _ = chains.parts(~face.has(face.ball, x, y))
        cut, of = np.diff(chains.first) < many[lines], of[lines]
        long = chains.lengths(points.x, points.y)
        side_px = np.float32(face.part.side_on_grid)
        short = chains.means(likely) * long <= _LONG * side_px
        left = ~_superfluous(face, points, chains, short, long) & ~(cut & (long <= _LEFT * side_px))
        chains, of = chains.taken(left), of[left]
    return chains, of


def _superfluous(
    face: FoundFace, points: Points, chains: Chains, short: npt.NDArray[np.bool_], long: Floats
) -> npt.NDArray[np.bool_]:
    """Which lines are of a lip's shade, or of a shaft but for the longest that is smooth.

    Args:
        face: Whose nose it is.
        points: All points.
        chains: Lines that are drawn.
        short: Which are short for the face.
        long: How long each is.
    """
    x, y = points.x[chains.order], points.y[chains.order]
    found, shade = (
        np.bincount(chains.owner[face.has(one, x, y)], minlength=len(chains))
        > np.float32(_MOSTLY) * chains.counts
        for one in (face.shaft, face.over_lip)
    )
    first, last = chains.order[chains.first[:-1]], chains.order[chains.first[1:] - 1]
    apart = np.hypot(points.x[last] - points.x[first], points.y[last] - points.y[first])
    drawn = found & ~short & (apart > np.float32(_SMOOTH) * long)
    if drawn.any():
        found[np.argmax(np.where(drawn, long, 0))] = False
    return np.asarray(found | shade)
