"""What lies within places of a face, as landmarks of a nostril: their convex hull."""

from __future__ import annotations

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles


def hull(places: Doubles) -> Doubles:
    """The convex hull as a ring.

    After Andrew, "Another efficient algorithm for convex hulls in two dimensions", Information
    Processing Letters 9, 1979; from memory.
    """
    order = places[np.lexsort(places.T[::-1])].tolist()
    halves = []
    for run in (order, order[::-1]):
        half: list[list[float]] = []
        for x, y in run:
            while len(half) > 1:
                (one_x, one_y), (two_x, two_y) = half[-2:]
                if (two_x - one_x) * (y - one_y) - (two_y - one_y) * (x - one_x) > 0:
                    break
                half.pop()
            half.append([x, y])
        halves += half[:-1]
    return np.array(halves)
