"""Which edge follows a ridge: of all that run beside it, the one that does so furthest.

A ridge says where a line passes to a pixel of its map or so, the picture's edges to a twentieth
of a pixel of its grid. Each linked edge within reach has a vote for every place of the ridge
that it runs beside, more for one that is clear and near. A plain and straight edge reaches
further: the map has one band of the bars of a window, whose ridge lies between. At each place the
edge with most votes is the line: so the line does not jump between the two sides of a rim, or
from tuft to tuft.
"""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import dataclass, fields
from functools import partial

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.ridge_places import Doubles, Flags, Ints, Places
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points, rows_and_columns
from worker.picture.outline.points.gaussian import Floats

#: How parallel an edge must be.
_COSINE = 0.8
#: Steps across a ridge in which edges are looked for, in pixels of the grid.
_STEP_PX = 0.7
#: Places that are looked at at once: what is known of them stays in a core's cache.
_AT_ONCE = 2048
#: Votes fade with the distance, in parts of the reach, and grow with contrast up to this.
_FADE, _PLAIN_LEVELS = 0.6, 30.0
#: An edge of so many levels is ruled where the way over so many mm before and after is hardly
#: longer than straight; such edges are followed from so many times as far.
_RULED_LEVELS, _RULED_MM, _RULED_SHARE, RULED_REACH = 50.0, 2.5, 0.985, 1.6


@dataclass(frozen=True, kw_only=True, eq=False)
class Beside:
    """Points of edges beside places: one row for each pair.

    Attributes:
        place, point: The pair.
        offset: How far the point is across the ridge, in pixels of the grid.
    """

    place: Ints
    point: Ints
    offset: Floats

    def taken(self, which: Flags | Ints) -> Beside:
        """Some of them."""
        at = np.flatnonzero(which) if which.dtype == bool else which
        return Beside(
            place=self.place.take(at), point=self.point.take(at), offset=self.offset.take(at)
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Pixels:
    """Pixels of the grid and some around it, row by row.

    Attributes:
        point: The point that each has, or -1.
        width: How many are in a row.
        first: The number of the grid's first one.
    """

    point: npt.NDArray[np.int32]
    width: int
    first: int

    def at(self, x: Floats, y: Floats) -> npt.NDArray[np.int32]:
        """The number of the pixel at each place of the grid."""
        column, row = np.rint(x).astype(np.int32), np.rint(y).astype(np.int32)
        return np.asarray(row * np.int32(self.width) + (column + np.int32(self.first)))


def edges_beside(
    places: Places,
    points: Points,
    shape: tuple[int, int],
    reach_px: float,
    pool: Executor | None = None,
) -> Beside:
    """Points within reach across each place that run along the ridge.

    Args:
        places: Along ridges.
        points: Of edges and thin lines.
        shape: Rows and columns of the picture's grid.
        reach_px: How far across.
        pool: Where some places at a time are looked at, if given; the result does not depend on it.
    """
    # Pixels around the picture spare the question which places are in it.
    outside = int(np.ceil(max(_beyond(places.x, shape[1]), _beyond(places.y, shape[0]))))
    pixels = _pixels_of(points, shape, outside + int(np.ceil(reach_px + _STEP_PX)) + 1)
    work = partial(_beside, places, points, pixels, reach_px)
    starts = range(0, max(len(places), 1), _AT_ONCE)
    parts = list((pool.map if pool else map)(work, starts))
    return Beside(
        **{
            field.name: np.concatenate([getattr(part, field.name) for part in parts])
            for field in fields(Beside)
        }
    )


def _pixels_of(points: Points, shape: tuple[int, int], margin: int) -> _Pixels:
    """Which point each pixel has."""
    width = shape[1] + 2 * margin
    point = np.full((shape[0] + 2 * margin) * width, -1, np.int32)
    row, column = rows_and_columns(points.key, shape[1])
    point[(row + margin) * width + column + margin] = np.arange(len(points), dtype=np.int32)
    return _Pixels(point=point, width=width, first=margin * width + margin)


def _beside(places: Places, points: Points, pixels: _Pixels, reach_px: float, start: int) -> Beside:
    """Points beside so many places from one on."""
    part = places.taken(np.arange(start, min(start + _AT_ONCE, len(places))))
    many = int(np.ceil(reach_px / _STEP_PX))
    far = (np.arange(-many, many + 1) * _STEP_PX).astype(np.float32)[:, None]
    at = pixels.at(part.x + part.nx * far, part.y + part.ny * far)
    there = pixels.point.take(at)
    met = there >= 0
    # A pixel that is met twice is met by two steps after each other.
    met[1:] &= at[1:] != at[:-1]
    found = np.flatnonzero(met)
    place, point = found % len(part), there.take(found).astype(np.int64)
    cosine, offset = _along(part, points, place, point)
    good = np.flatnonzero((cosine > _COSINE) & (np.abs(offset) <= reach_px))
    order = good.take(np.argsort((place * len(points) + point).take(good), kind="stable"))
    return Beside(
        place=place.take(order) + start, point=point.take(order), offset=offset.take(order)
    )


def _beyond(at: Floats, size: int) -> float:
    """How far places are beyond the picture's pixels."""
    return max(-float(at.min(initial=0)), float(at.max(initial=0)) - size + 1, 0.0)


def _along(places: Places, points: Points, place: Ints, point: Ints) -> tuple[Floats, Floats]:
    """How parallel edges are to ridges, and how far across them."""
    nx, ny = places.nx.take(place), places.ny.take(place)
    cosine = np.abs(nx * points.across_x.take(point) + ny * points.across_y.take(point))
    across, down = (
        points.x.take(point) - places.x.take(place),
        points.y.take(point) - places.y.take(place),
    )
    offset = across * nx + down * ny
    return cosine, offset


def reach_of(points: Points, chains: Chains, pitch_mm: float) -> Floats:
    """How far each point reaches, beside what is usual: further on a plain and straight edge.

    Args:
        points: Of edges.
        chains: The edges.
        pitch_mm: A pixel of the grid.
    """
    order, many = chains.order, round(_RULED_MM / pitch_mm)
    x, y = points.x.take(order), points.y.take(order)
    way = np.cumsum(
        np.hypot(np.diff(x, prepend=x[:1]), np.diff(y, prepend=y[:1])), dtype=np.float64
    )
    at = np.flatnonzero(points.contrast.take(order) > np.float32(_RULED_LEVELS))
    owner = chains.owner.take(at)
    before = np.maximum(at - many, chains.first.take(owner))
    after = np.minimum(at + many, chains.first.take(owner + 1) - 1)
    straight = np.hypot(x.take(after) - x.take(before), y.take(after) - y.take(before))
    # At its ends half of it is enough to tell.
    ruled = straight > _RULED_SHARE * (way.take(after) - way.take(before))
    ruled &= after - before >= many
    reach = np.ones(len(points), np.float32)
    reach[order.take(at[ruled])] = np.float32(RULED_REACH)
    return reach


def within_reach(beside: Beside, reach_px: Doubles, further: Floats) -> Beside:
    """Those that are near enough to be followed.

    What lies between two edges that are both further away than usual follows neither: they are
    those of a bar, and drawn both.

    Args:
        beside: Points beside places.
        reach_px: How far is usual, of each place.
        further: How far each point reaches beside that.
    """
    usual = np.asarray(reach_px, np.float32)[beside.place]
    far = (np.abs(beside.offset) > usual) & (np.abs(beside.offset) <= usual * further[beside.point])
    left, right = (
        np.bincount(beside.place[far & (sign * beside.offset > 0)], minlength=len(reach_px)) > 0
        for sign in (1, -1)
    )
    return beside.taken((np.abs(beside.offset) <= usual) | (far & ~(left & right)[beside.place]))


def followed(  # noqa: PLR0913 - what votes, and how far a vote counts.
    points: Points, chains: Chains, beside: Beside, line: Ints, *, reach_px: Doubles, least: Doubles
) -> Beside:
    """For each place at most one point: of the edge with most votes.

    Args:
        points: Of edges.
        chains: The edges.
        beside: Points beside places.
        line: The ridge of each place.
        reach_px: How far away is usual, of each place.
        least: An edge follows a ridge for so many places, or not at all; of each place.
    """
    edge = np.full(len(points), -1, np.int64)
    edge[chains.order] = chains.owner
    beside = beside.taken(edge[beside.point] >= 0)
    pair = line[beside.place] * len(chains) + edge[beside.point]
    order = np.argsort(pair, kind="stable")
    new = np.diff(pair[order], prepend=-1) > 0
    number = np.empty(len(pair), np.int64)
    number[order] = np.cumsum(new) - 1
    fade = np.exp(-((beside.offset / (_FADE * reach_px).astype(np.float32)[beside.place]) ** 2))
    clear = np.minimum(points.total[beside.point] / np.float32(_PLAIN_LEVELS), 1)
    votes = np.bincount(number, fade * clear)
    # A place may be beside more than one point of an edge.
    met = order[new | (np.diff(beside.place[order], prepend=-1) != 0)]
    follows = np.bincount(number[met])[number] >= least[beside.place]
    return _best(beside.taken(follows), np.asarray(votes[number[follows]], np.float64))


def _best(beside: Beside, votes: Doubles) -> Beside:
    """Of each place the point with most votes; of several the nearest, and of these the first.

    Args:
        beside: Points beside places, by place.
        votes: Of each.
    """
    most = np.flatnonzero(votes == _largest(votes, beside.place))
    near = -np.abs(beside.offset[most])
    nearest = most[near == _largest(near, beside.place[most])]
    first = np.diff(beside.place[nearest], prepend=-1) > 0
    return beside.taken(nearest[first])


def _largest(values: Floats | Doubles, place: Ints) -> Floats | Doubles:
    """The largest value at the place of each; ascending places."""
    if not len(values):
        return values
    new = np.diff(place, prepend=-1) > 0
    largest = np.maximum.reduceat(values, np.flatnonzero(new))
    return np.asarray(largest[np.cumsum(new) - 1])
