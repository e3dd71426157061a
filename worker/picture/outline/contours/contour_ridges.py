"""Ridges of a map of likelihoods: the middles of its bands, as lines.

A map says how likely a line passes, over a band some pixels wide. The line is the band's ridge:
where the slope across, along the direction of the largest bend, passes through zero (Steger
1998, "An unbiased detector of curvilinear structures"), found to a fraction of a pixel. Points
are linked, and ends joined across gaps, as points of edges are. All of it is done in the map's
own pixels, over the whole reference: crop, seams and tiles play no part.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.bridging import bridge_gaps
from worker.picture.outline.points.chains import Chains, chains_of
from worker.picture.outline.points.edge_points import LIGHT, Points, largest_bend
from worker.picture.outline.points.gaussian import Floats, gaussian_smoothed
from worker.picture.outline.points.linking import best_neighbours, mutual
from worker.spec.reading import Bytes

#: Offsets of the smoothing: six boxes of two, variance 3/2, so sigma is 1.2 pixels.
_OFFSETS = (1, 1, 1, 1, 1, 1)
_REACH_PX = sum(_OFFSETS) // 2
#: The least likelihood of a ridge's point, of 255, and how far it bends across, per px²: in the
#: middle of a band too wide to have one, everything bends a little.
_LEAST, _LEAST_BEND, _BEND_SHARE = 20.0, 0.4, 0.015
#: The zero must lie within its pixel, or a little beyond so that none is missed.
_WITHIN_PX = 0.6
#: Nothing that runs along the map's edge is a line so near to it.
_EDGE_PX, _ALONG_EDGE = 3, 0.8
#: Ends this near are joined.
_GAP_PX = 10.0
#: Lines of fewer points are no lines.
_LEAST_POINTS = 5
#: Rounds of the mean along a line, each of variance 1/2 in steps.
_STEADY_ROUNDS = 6

_Doubles = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class RidgeLines:
    """Lines along ridges, in pixels of the map or of a grid, from the first pixel's middle.

    Attributes:
        x, y: (places,) line after line.
        first: (lines + 1,): line i has the places from `first[i]` up to `first[i + 1]`.
        closed: (lines,) whether its last place is its first one again.
    """

    x: Floats
    y: Floats
    first: npt.NDArray[np.int64]
    closed: npt.NDArray[np.bool_]


def ridge_lines(values: Bytes) -> RidgeLines:
    """The ridges of a map, (rows, columns) of 0 to 255."""
    smooth = _smoothed(values)
    points = ridge_points(smooth)
    link = mutual(points.key, best_neighbours(points, values.shape[1]))
    smooth = smooth[1:-1, 1:-1]

    def seen(x: Floats, y: Floats) -> Floats:
        row = np.clip(np.rint(y).astype(np.int64), 0, smooth.shape[0] - 1)
        return smooth[row, np.clip(np.rint(x).astype(np.int64), 0, smooth.shape[1] - 1)]

    chains = bridge_gaps(points, chains_of(link), link, reach_px=_GAP_PX, seen=seen)
    chains = _without_ends(chains.taken(chains.counts >= _LEAST_POINTS))
    x, y = _steadied(points, chains)
    return RidgeLines(x=x, y=y, first=chains.first, closed=chains.closed)


def ridge_points(smooth: Floats) -> Points:
    """Points on the ridges of a map; their contrast is the smoothed likelihood, 0 to 255.

    Args:
        smooth: The map, smoothed, with a pixel more on each side.
    """
    middle = smooth[1:-1, 1:-1]
    rows, columns = middle.shape
    bend_x = smooth[1:-1, 2:] + smooth[1:-1, :-2] - 2 * middle
    bend_y = smooth[2:, 1:-1] + smooth[:-2, 1:-1] - 2 * middle
    here = np.flatnonzero((middle > np.float32(_LEAST)) & (bend_x + bend_y < 0))
    row, column = np.divmod(here, columns)
    wide, flat = columns + 2, smooth.ravel()
    at = (row + 1) * wide + column + 1
    slope_x = (flat[at + 1] - flat[at - 1]) / 2
    slope_y = (flat[at + wide] - flat[at - wide]) / 2
    twist = flat[at + wide + 1] + flat[at - wide - 1] - flat[at + wide - 1] - flat[at - wide + 1]
    bend, nx, ny = largest_bend(bend_x.ravel()[here], bend_y.ravel()[here], twist / 4)
    offset = -(slope_x * nx + slope_y * ny) / bend
    inside = np.maximum(np.abs(offset * nx), np.abs(offset * ny)) <= _WITHIN_PX
    # Along the map's own edge a network sees lines where its picture ends.
    beyond = np.maximum(
        np.abs(nx) * ((column < _EDGE_PX) | (column >= columns - _EDGE_PX)),
        np.abs(ny) * ((row < _EDGE_PX) | (row >= rows - _EDGE_PX)),
    )
    inside &= beyond < _ALONG_EDGE
    which = np.flatnonzero(inside & (bend < -_LEAST_BEND - _BEND_SHARE * middle.ravel()[here]))
    nx, ny, offset = nx[which], ny[which], offset[which]
    count = len(which)
    return Points(
        key=here[which].astype(np.int32),
        x=(column[which] + offset * nx).astype(np.float32),
        y=(row[which] + offset * ny).astype(np.float32),
        across_x=nx.astype(np.float32),
        across_y=ny.astype(np.float32),
        contrast=middle.ravel()[here[which]],
        chroma=np.zeros(count, np.float32),
        kind=np.full(count, LIGHT, np.uint8),
    )


def _smoothed(values: Bytes) -> Floats:
    """A map, with a pixel more on each side."""
    return gaussian_smoothed(np.pad(values, _REACH_PX + 1, mode="edge"), _OFFSETS)


def _without_ends(chains: Chains) -> Chains:
    """Open lines without their last points, which turn to where the map has something else."""
    inner = np.ones(len(chains.order), bool)
    inner[chains.first[:-1][~chains.closed]] = inner[chains.first[1:][~chains.closed] - 1] = False
    counts = chains.counts - 2 * ~chains.closed
    return Chains(
        order=chains.order[inner],
        first=np.concatenate(([0], np.cumsum(counts))),
        closed=chains.closed,
    )


def _steadied(points: Points, chains: Chains) -> tuple[Floats, Floats]:
    """Places averaged along their line, of which ends stay: a map cannot place them better."""
    x, y = points.x[chains.order].astype(np.float64), points.y[chains.order].astype(np.float64)
    begin, end = chains.first[:-1], chains.first[1:] - 1
    before, after = np.arange(len(x)) - 1, np.arange(len(x)) + 1
    before[begin], after[end] = begin, end
    ring = chains.closed
    before[begin[ring]], after[end[ring]] = end[ring] - 1, begin[ring] + 1
    stays = np.zeros(len(x), bool)
    stays[begin[~ring]] = stays[end[~ring]] = True
    for _ in range(_STEADY_ROUNDS):
        x = np.where(stays, x, (2 * x + x[before] + x[after]) / 4)
        y = np.where(stays, y, (2 * y + y[before] + y[after]) / 4)
    return x.astype(np.float32), y.astype(np.float32)
