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
            while len(half) > 1 and _turns_back(half[-2], half[-1], x, y):
                half.pop()
            half.append([x, y])
        halves += half[:-1]
    return np.array(halves)


def _turns_back(one: list[float], two: list[float], x: float, y: float) -> bool:
    across, down = two[0] - one[0], two[1] - one[1]
    return across * (y - one[1]) - down * (x - one[0]) <= 0
