"""Short strokes in faces whose features are drawn, which say nothing beside them.

What is left between features is shade, stubble, gloss and the ends of folds. A portrait
draughtsman draws a fold that is long for the face, and leaves the rest of a cheek or a forehead
white, and hair within a head's outline in few and long strands (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats

#: So much of a stray lies beside features; it is shorter than this, in widths of the face.
_WHOLLY, _SHORT = 0.9, 0.13
#: A scrap of hair is shorter than this by its likelihood, in sides of the face, and so far on a
#: border at most.
_SHORT_IN_HAIR, _BORDER = 0.08, 0.35


def strays(
    points: Points, chains: Chains, beside: Floats, face_px: Floats, *, texture: float
) -> npt.NDArray[np.bool_]:
    """Which lines are strays: open ones that are short for the face, and all in it.

    Args:
        points: All points.
        chains: Lines that are drawn.
        beside: 1 for points in a face beside its features, 0 for others.
        face_px: Width of the face that a point is in, in pixels of the grid.
        texture: How far texture is wanted, 0 to 1: where all is, nothing is a stray.
    """
    short = np.float32(_SHORT * (1 - texture)) * chains.means(face_px)
    inside = chains.means(beside) > np.float32(_WHOLLY)
    return np.asarray(inside & ~chains.closed & (chains.lengths(points.x, points.y) < short))


def hair_strays(
    faces: Sequence[FoundFace],
    points: Points,
    chains: Chains,
    shares: tuple[Floats, Floats, Floats],
    *,
    texture: float,
) -> npt.NDArray[np.bool_]:
    """Which lines are scraps of hair: open, short for the face, and no part of the head's outline.

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
        there[some.order] = face.above_brows(points.x[some.order], points.y[some.order])
        found[short] |= some.means(there) > np.float32(_WHOLLY)
    return found
