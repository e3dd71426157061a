"""Join lines across short gaps, where their ends point at each other."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.imaging.outline.chains import Chains
from worker.imaging.outline.linking import Ids
from worker.imaging.outline.points import EDGE, Points

_LEAST_COSINE = 0.75
_BACK = 6


def bridged(points: Points, chains: Chains, link: Ids, *, reach_px: float) -> Ids:
    """Links with those across gaps; only of points on these chains."""
    kept = np.zeros(len(points), bool)
    kept[chains.order] = True
    link = np.where(kept[:, None], link, -1).astype(np.int32)
    ends, inner = _ends(chains)
    if len(ends) < 2:
        return link
    x, y = points.x[ends].astype(np.float64), points.y[ends].astype(np.float64)
    out_x, out_y = x - points.x[inner], y - points.y[inner]
    size = np.hypot(out_x, out_y) + 1e-9
    out_x, out_y = out_x / size, out_y / size
    one, two = _near(x, y, reach_px)
    dx, dy = x[two] - x[one], y[two] - y[one]
    far = np.hypot(dx, dy) + 1e-9
    leave = (dx * out_x[one] + dy * out_y[one]) / far
    enter = -(dx * out_x[two] + dy * out_y[two]) / far
    facing = -(out_x[one] * out_x[two] + out_y[one] * out_y[two])
    # Ends that nearly touch may lie beside each other's way.
    slack = far < 2.0
    good = (facing > _LEAST_COSINE) & (
        (np.minimum(leave, enter) > _LEAST_COSINE) | (slack & (np.minimum(leave, enter) > -0.2))
    )
    good &= one != two
    both = (points.kind[ends[one]] == EDGE) & (points.kind[ends[two]] == EDGE)
    same = (
        points.across_x[ends[one]] * points.across_x[ends[two]]
        + points.across_y[ends[one]] * points.across_y[ends[two]]
    )
    good &= ~both | (same > 0)
    a, b = points.contrast[ends[one]], points.contrast[ends[two]]
    good &= np.minimum(a, b) > 0.3 * np.maximum(a, b)
    one, two, cost = (
        one[good],
        two[good],
        far[good] * (4.0 - leave[good] - enter[good] - facing[good]),
    )
    best = _best(len(ends), one, two, cost)
    pairs = np.flatnonzero((best >= 0) & (best[np.maximum(best, 0)] == np.arange(len(ends))))
    for side in (0, 1):
        free = pairs[link[ends[pairs], side] < 0]
        link[ends[free], side] = ends[best[free]]
        # A point alone has two free sides; chains have two points at least.
        pairs = np.setdiff1d(pairs, free)
    return link


def _ends(chains: Chains) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Points at which open lines end, and points a little way in."""
    first, last = chains.first[:-1][~chains.closed], chains.first[1:][~chains.closed] - 1
    back = np.minimum(last - first, _BACK)
    order = chains.order
    return (
        np.concatenate((order[first], order[last])),
        np.concatenate((order[first + back], order[last - back])),
    )


def _near(
    x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], reach: float
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """All pairs no further apart than `reach`, both ways round, by a grid of cells."""
    column, row = np.floor(x / reach).astype(np.int64) + 1, np.floor(y / reach).astype(np.int64) + 1
    columns = int(column.max()) + 2
    cell = row * columns + column
    order = np.argsort(cell, kind="stable")
    ranked = cell[order]
    ones, twos = [], []
    for down in (-1, 0, 1):
        low = np.searchsorted(ranked, cell + down * columns - 1)
        high = np.searchsorted(ranked, cell + down * columns + 1, side="right")
        count = high - low
        one = np.repeat(np.arange(len(x)), count)
        start = np.repeat(low - np.concatenate(([0], np.cumsum(count)[:-1])), count)
        two = order[np.arange(len(one)) + start]
        ones.append(one)
        twos.append(two)
    one, two = np.concatenate(ones), np.concatenate(twos)
    near = (x[one] - x[two]) ** 2 + (y[one] - y[two]) ** 2 <= reach * reach
    return one[near], two[near]


def _best(
    count: int,
    one: npt.NDArray[np.int64],
    two: npt.NDArray[np.int64],
    cost: npt.NDArray[np.float64],
) -> npt.NDArray[np.int64]:
    """For each end the cheapest other, or -1."""
    order = np.lexsort((two, cost, one))
    lead = one[order]
    first = np.concatenate(([True], lead[1:] != lead[:-1])) if len(lead) else np.zeros(0, bool)
    best = np.full(count, -1, np.int64)
    best[lead[first]] = two[order][first]
    return best
