"""Short strokes in faces whose features are drawn, which say nothing beside them.

What is left between features is shade, stubble, gloss and the ends of folds. A portrait
draughtsman draws a fold that is long for the face, once, and leaves the rest of a cheek, a forehead
or a neck white, and hair within a head's outline in few and long strands (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.points.bridging import pairs_within
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats

#: So much of a stray lies beside features; it is shorter than this, in widths of the face.
_WHOLLY, _SHORT = 0.9, 0.13
#: A line that curls up is no longer than so many times as far as it reaches.
_CURLED = 1.2
#: A fold has two edges, so near to each other in widths of the face, and as parallel; one of them
#: runs so far beside the longer one, of which one point in so many is looked at.
_FOLD, _PARALLEL, _MOSTLY, _EVERY, _TWO = 0.05, 0.8, 0.6, 3, 2
#: A scrap of hair is shorter than this by its likelihood, in sides of the face, and so far on a
#: border at most.
_SHORT_IN_HAIR, _BORDER = 0.08, 0.35


def strays(
    points: Points, chains: Chains, beside: Floats, face_px: Floats, *, texture: float
) -> npt.NDArray[np.bool_]:
    """Which lines are strays: open ones that are short for a face, or a fold's other edge.

    Args:
        points: All points.
        chains: Lines that are drawn.
        beside: 1 for points in a face beside its features, 0 for others.
        face_px: Width of the face that a point is in, in pixels of the grid.
        texture: How far texture is wanted, 0 to 1: where all is, nothing is a stray.
    """
    wide = np.float32(1 - texture) * chains.means(face_px)
    inside = (chains.means(beside) > np.float32(_WHOLLY)) & ~chains.closed
    reaches = chains.lengths(points.x, points.y)
    some = _CURLED * _reaches(points, chains.taken(inside))
    reaches[inside] = np.minimum(reaches[inside], some)
    found = inside & (reaches < np.float32(_SHORT) * wide)
    return np.asarray(found | _doubled(points, chains, inside & ~found, wide))


def _reaches(points: Points, chains: Chains) -> Floats:
    """How far each line reaches: the diagonal of the box that it is in."""
    if not len(chains):
        return np.zeros(0, np.float32)
    sides = [
        np.maximum.reduceat(one, chains.first[:-1]) - np.minimum.reduceat(one, chains.first[:-1])
        for one in (points.x[chains.order], points.y[chains.order])
    ]
    return np.asarray(np.hypot(*sides))


def _doubled(
    points: Points, chains: Chains, which: npt.NDArray[np.bool_], wide: Floats
) -> npt.NDArray[np.bool_]:
    """Which of some lines run beside a longer one of them: the other edge of the same fold."""
    found = np.zeros(len(chains), np.bool_)
    if which.sum() < _TWO:
        return found
    at = np.flatnonzero(which[chains.owner])[::_EVERY]
    owner, point = chains.owner[at], chains.order[at]
    one, two = pairs_within(points, point, point, float(_FOLD * wide[which].max()))
    long = chains.lengths(points.x, points.y)
    a, b = owner[one], owner[two]
    along = points.across_x[point[one]] * points.across_x[point[two]]
    along += points.across_y[point[one]] * points.across_y[point[two]]
    far = np.hypot(
        points.x[point[one]] - points.x[point[two]], points.y[point[one]] - points.y[point[two]]
    )
    better = (long[b] > long[a]) | ((long[b] == long[a]) & (b > a))
    near = better & (far < _FOLD * wide[a]) & (np.abs(along) > np.float32(_PARALLEL))
    beside = np.zeros(len(at), np.bool_)
    beside[one[near]] = True
    count = np.bincount(owner, minlength=len(chains))
    return np.asarray(np.bincount(owner, beside, len(chains)) > _MOSTLY * np.maximum(count, 1))


def hair_strays(
    faces: Sequence[FoundFace],
    points: Points,
    chains: Chains,
    shares: tuple[Floats, Floats, Floats],
    *,
    texture: float,
) -> npt.NDArray[np.bool_]:
    """Which lines are scraps of hair or of a neck: open, short, and no part of a figure's outline.

    Args:
        faces: Those whose features were found.
        points: All points.
        chains: Lines that are drawn.
        shares: How far points are of a figure, and on its border, and how likely a person would
            draw a line there; each 0 to 1.
        texture: How far texture is wanted, as above.
    """
    found = np.zeros(len(chains), np.bool_)
    long = chains.lengths(points.x, points.y)
    figure, border, likely = (chains.means(one) for one in shares)
    inner = ~chains.closed & (figure > np.float32(_WHOLLY)) & (border < np.float32(_BORDER))
    for face in faces:
        side_px = np.float32(face.part.side_on_grid * (1 - texture))
        short = np.flatnonzero(inner & (likely * long < np.float32(_SHORT_IN_HAIR) * side_px))
        some = chains.taken(np.isin(np.arange(len(chains)), short))
        there = np.zeros(len(points), np.float32)
        x, y = points.x[some.order], points.y[some.order]
        there[some.order] = face.above_brows(x, y) | face.has(face.neck, x, y)
        found[short] |= some.means(there) > np.float32(_WHOLLY)
    return found
