"""Regions that closed contours part, also where a contour has small gaps.

Balls are rolled through what is free of contours: a large one first, then a small one in what
the large one does not reach. A gap narrower than a ball does not let it through, so contours
need not be closed (trapped-ball segmentation; Zhang, Chen, Zhang, Liu and Hu 2009). Regions then
grow from where balls were: over free places, and up the contours from faint to strong, so that
they meet along their ridges (watershed; Vincent and Soille 1991). Neighbours between which the
border is mostly no contour become one again.
"""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt

from worker.picture.tones.patches import (
    Labels,
    Regions,
    components,
    joined,
    merge_small_areas,
    touching,
)
from worker.picture.tones.regions import Mask, Padded, dilated

Bytes = npt.NDArray[np.uint8]

#: From here, of 255, a place is contour.
_CONTOUR = 128
#: Radius of the balls, in shares of the map's longer side: 3 and 1.2 mm of 600.
_BALLS = (1 / 200, 1 / 500)
#: Contours are climbed in steps of this.
_STEP = 24
#: A border parts two regions where the contour along it is so strong on average.
_PARTS = 150.0
_NONE = np.int32(0)


def contour_regions(contour: Bytes, least_px: float) -> Regions:
    """Number the regions.

    Args:
        contour: (rows, columns) how likely a contour passes, 0 to 255.
        least_px: A smaller region joins the one with which it has most border.

    Returns:
        The same shape, numbers from 0.
    """
    free = contour < _CONTOUR
    if free.all():
        return np.zeros(contour.shape, np.uint16)
    labels = _seeded(free)
    if not labels.any():
        return np.zeros(contour.shape, np.uint16)
    labels = _grown(labels, free)
    for level in range(_CONTOUR, 256 + _STEP, _STEP):
        labels = _grown(labels, contour < level)
    # What no ball has reached, closed in by what was: nearest of what is around it.
    labels = _joined(_grown(labels, np.ones(free.shape, np.bool_)) - 1, contour)
    flat = np.zeros(free.shape, np.uint8)
    # A ball covers some ten pixels, so there are never as many as two bytes can number.
    sides = labels.astype(np.uint16)
    return merge_small_areas(flat, sides, flat.astype(np.uint16), np.zeros(1), least_px)[1]


def _seeded(free: Mask) -> Labels:
    """Where the balls have room, numbered from 1 by region; 0 elsewhere."""
    labels = np.zeros(free.shape, np.int32)
    count = 0
    for share in _BALLS:
        reach = max(round(max(free.shape) * share), 1)
        open_ = free & (labels == _NONE)
        centres = open_ & ~dilated(~open_, reach)
        numbers, _ = components(centres)
        found = np.unique(numbers[centres])
        dense = np.zeros(int(numbers.max()) + 1, np.int32)
        dense[found] = np.arange(count + 1, count + 1 + len(found))
        count += len(found)
        # The ball itself, round the places of its centre.
        rolled = _grown(np.where(centres, dense[numbers], _NONE), open_, reach)
        labels = np.where(labels == _NONE, rolled, labels)
    return labels


def _grown(labels: Labels, allowed: Mask, steps: int | None = None) -> Labels:
    """Let regions grow over places that are allowed, until there is no more or for some steps."""
    edge = Padded(labels.shape)
    number = edge.around(labels, fill=_NONE)
    open_ = edge.around(allowed & (labels == _NONE), fill=False)
    place = edge.front(open_, number != _NONE)
    open_[place] = False
    for _ in itertools.count() if steps is None else range(steps):
        if not len(place):
            break
        number[place] = np.max([number[place + step] for step in edge.beside], axis=0)
        place = edge.next_to(place, open_, np.True_, np.False_)
    return edge.inside(number)


def _joined(labels: Labels, contour: Bytes) -> Labels:
    """Neighbours without a contour between them are one region."""
    count = int(labels.max()) + 1
    edges = touching(labels, count)
    height = _heights(labels, contour, count)
    alike = height / edges.length < _PARTS
    root = joined(count, edges.low[alike], edges.high[alike])
    return np.unique(root, return_inverse=True)[1].astype(np.int32)[labels]


def _heights(labels: Labels, contour: Bytes, count: int) -> npt.NDArray[np.float64]:
    """The contour summed along each border, in the order of `touching`."""
    codes, heights = [], []
    for before, after in (
        ((slice(None), slice(None, -1)), (slice(None), slice(1, None))),
        ((slice(None, -1), slice(None)), (slice(1, None), slice(None))),
    ):
        one, other = labels[before], labels[after]
        apart = one != other
        a, b = one[apart].astype(np.int64), other[apart].astype(np.int64)
        codes.append(np.minimum(a, b) * count + np.maximum(a, b))
        heights.append(np.maximum(contour[before][apart], contour[after][apart]))
    _, place = np.unique(np.concatenate(codes), return_inverse=True)
    return np.bincount(place, np.concatenate(heights)).astype(np.float64)
