"""What is missing of jaws, joined to what is there; and how heavy what is there is at least."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.bounds.bound import Bound
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.feature_lines.bound_gaps import Joining, missing_parts
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.spec.strokes import PLAIN

#: A jaw is sharp, and any gap in it is closed.
_GAPS = Joining(shortest=0.005, reaches=0.04, seen=0.45)
#: A line runs along a jaw if so much of it does.
_MOSTLY = 0.6


def missing_jaws(jaws: Sequence[Bound], points: Points, chains: Chains) -> list[Doubles]:
    """Parts of jaws that no line has, in pixels of the grid: (places, 2) each.

    Args:
        jaws: Those of faces.
        points: All points.
        chains: Lines that are drawn.
    """
    return missing_parts(jaws, points, chains, _GAPS)


def jaw_weights(
    faces: Sequence[FoundFace], points: Points, chains: Chains, weight: npt.NDArray[np.uint8]
) -> npt.NDArray[np.uint8]:
    """Weights where no line along a jaw is as light as a fold: it bounds the face.

    Args:
        faces: Those whose features were found.
        points: All points.
        chains: Lines that are drawn.
        weight: Of each.
    """
    along = np.zeros(len(points), np.float32)
    x, y = points.x[chains.order], points.y[chains.order]
    for face in faces:
        along[chains.order[face.has(face.bound, x, y)]] = 1
    return np.where(chains.means(along) > np.float32(_MOSTLY), np.maximum(weight, PLAIN), weight)
