"""Put linked points in order, all lines at once.

List ranking by pointer jumping (Wyllie 1979): every point learns in rounds of one, two, four
... steps where its line ends and how far that is, with a few whole-array operations for each
round. A closed line is cut at its first point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.imaging.outline.linking import Ids

_Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Chains:
    """Lines as points in order.

    Attributes:
        order: Point numbers, line after line; a closed line has its first point again at
            its end.
        first: (lines + 1,): line i has `order[first[i]:first[i + 1]]`.
        closed: (lines,) whether it is a ring.
    """

    order: _Ints
    first: _Ints
    closed: npt.NDArray[np.bool_]

    def __len__(self) -> int:
        """How many lines."""
        return len(self.closed)

    @property
    def counts(self) -> _Ints:
        """Points of each line."""
        return np.diff(self.first)

    @property
    def owner(self) -> _Ints:
        """The line of each place in `order`."""
        return np.repeat(np.arange(len(self)), self.counts)

    def means(self, values: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
        """The mean of a value of points over each line."""
        if not len(self):
            return np.zeros(0, np.float32)
        sums = np.add.reduceat(values[self.order].astype(np.float64), self.first[:-1])
        return np.asarray(sums / self.counts, np.float32)

    def taken(self, which: npt.NDArray[np.bool_]) -> Chains:
        """Some of the lines."""
        counts = self.counts[which]
        return Chains(
            order=self.order[np.repeat(which, self.counts)],
            first=np.concatenate(([0], np.cumsum(counts))),
            closed=self.closed[which],
        )


def chains_of(link: Ids) -> Chains:
    """Lines of two points and more, in the order of their first points.

    Args:
        link: (points, 2) the neighbour on each side, or -1; mutual.
    """
    onward = _onward(link)
    end, steps, ring = _ends(onward)
    link = link.copy()
    if ring.any():
        cut = _cuts(onward, ring)
        link = _without(link, cut)
        onward = _onward(link)
        end, steps, _ = _ends(onward)
    else:
        cut = np.zeros(0, np.int64)
    return _ordered(link, end.reshape(-1, 2), steps.reshape(-1, 2), cut)


def _onward(link: Ids) -> _Ints:
    """Next of each half: half 2i + s is point i left through side s; ends lead to themselves."""
    count = len(link)
    halves = np.arange(2 * count)
    other = link.ravel().astype(np.int64)
    mine = halves >> 1
    # It is entered through the side that leads back, and left through the other one.
    enters = link[other, 0] != mine
    return np.where(other >= 0, 2 * other + 1 - enters, halves)


def _ends(onward: _Ints) -> tuple[_Ints, _Ints, npt.NDArray[np.bool_]]:
    """The last half of each half's way, the steps to it, and which go round for ever."""
    end = onward.astype(np.int32)
    halves = np.arange(len(end), dtype=np.int32)
    steps = (end != halves).astype(np.int32)
    last = end == halves
    going = np.flatnonzero(~last[end])
    left = len(going)
    while left:
        ahead = end[going]
        steps[going] += steps[ahead]
        end[going] = end[ahead]
        still = ~last[end[going]]
        going = going[still]
        if len(going) == left:
            break
        left = len(going)
    ring = np.zeros(len(end), bool)
    ring[going] = True
    return end.astype(np.int64), steps.astype(np.int64), ring


def _cuts(onward: _Ints, ring: npt.NDArray[np.bool_]) -> _Ints:
    """The first point of each ring."""
    halves = np.flatnonzero(ring)
    place = np.full(len(onward), -1, np.int64)
    place[halves] = np.arange(len(halves))
    ahead, least = place[onward[halves]], halves >> 1
    while True:
        lower = np.minimum(least, least[ahead])
        if np.array_equal(lower, least):
            return np.unique(least)
        least, ahead = lower, ahead[ahead]


def _without(link: Ids, cut: _Ints) -> Ids:
    """Links without the one through side 0 of each of these points."""
    other = link[cut, 0]
    back = (link[other, 0] != cut).astype(np.int64)
    link[other, back] = -1
    link[cut, 0] = -1
    return link


def _ordered(link: Ids, end: _Ints, steps: _Ints, cut: _Ints) -> Chains:
    points = end >> 1
    start = points.min(axis=1)
    # Counted from the end with the lower number.
    position = np.where(points[:, 0] <= points[:, 1], steps[:, 0], steps[:, 1])
    size = steps.sum(axis=1) + 1
    heads = np.flatnonzero((start == np.arange(len(start))) & (size > 1))
    ring = np.isin(heads, cut)
    counts = size[heads] + ring
    first = np.concatenate(([0], np.cumsum(counts)))
    place = np.full(len(link), -1, np.int64)
    place[heads] = first[:-1]
    member = np.flatnonzero(size > 1)
    order = np.zeros(int(first[-1]), np.int64)
    order[place[start[member]] + position[member]] = member
    order[first[1:][ring] - 1] = heads[ring]
    return Chains(order=order, first=first, closed=ring)
