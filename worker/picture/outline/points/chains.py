"""Chains: linked points put in order, for all lines at once.

List ranking by pointer jumping (Wyllie 1979): every point learns in rounds of one, two, four
... steps where its line ends and how far that is, with a few whole-array operations for each
round. Most lines are short, and walked along from their ends before. A closed line is cut at its
first point.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.linking import Ids

_Ints = npt.NDArray[np.int64]
#: Steps from ends after which lines are followed by jumps.
_WALKED = 40


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

    @cached_property
    def counts(self) -> _Ints:
        """Points of each line."""
        return np.diff(self.first)

    @cached_property
    def owner(self) -> _Ints:
        """The line of each place in `order`."""
        return np.repeat(np.arange(len(self)), self.counts)

    def means(self, values: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
        """The mean of a value of points over each line."""
        if not len(self):
            return np.zeros(0, np.float32)
        sums = np.add.reduceat(values.take(self.order).astype(np.float64), self.first[:-1])
        return np.asarray(sums / self.counts, np.float32)

    def lengths(
        self, x: npt.NDArray[np.float32], y: npt.NDArray[np.float32]
    ) -> npt.NDArray[np.float32]:
        """The length of each line, given where points are."""
        if not len(self):
            return np.zeros(0, np.float32)
        x, y = x.take(self.order), y.take(self.order)
        steps = np.hypot(np.diff(x, prepend=x[:1]), np.diff(y, prepend=y[:1]))
        steps[self.first[:-1]] = 0
        return np.asarray(np.add.reduceat(steps, self.first[:-1]), np.float32)

    def spans(
        self, x: npt.NDArray[np.float32], y: npt.NDArray[np.float32]
    ) -> npt.NDArray[np.float32]:
        """How far it is from end to end of each line, given where points are."""
        one, two = self.order[self.first[:-1]], self.order[self.first[1:] - 1]
        return np.asarray(np.hypot(x[two] - x[one], y[two] - y[one]))

    def taken(self, which: npt.NDArray[np.bool_]) -> Chains:
        """Some of the lines."""
        counts = self.counts[which]
        return Chains(
            order=self.order[np.repeat(which, self.counts)],
            first=np.concatenate(([0], np.cumsum(counts))),
            closed=self.closed[which],
        )

    def halves(self) -> tuple[Chains, Chains]:
        """The first lines and the last, of about as many points."""
        middle = int(np.searchsorted(self.first, len(self.order) // 2))
        start = self.first[middle]
        return (
            Chains(
                order=self.order[:start],
                first=self.first[: middle + 1],
                closed=self.closed[:middle],
            ),
            Chains(
                order=self.order[start:],
                first=self.first[middle:] - start,
                closed=self.closed[middle:],
            ),
        )

    def parts(self, stays: npt.NDArray[np.bool_]) -> tuple[Chains, _Ints, _Ints]:
        """What is left of lines where some places stay.

        Args:
            stays: For each place of `order`; a ring of which all stay is whole.

        Returns:
            The parts; the line of each; and the place in `order` of each of theirs.
        """
        owner, at = self.owner, np.flatnonzero(stays)
        new = (np.diff(at, prepend=-2) > 1) | (np.diff(owner[at], prepend=-1) != 0)
        begin = np.flatnonzero(new)
        of, counts = owner[at][begin], np.diff(np.append(begin, len(at)))
        whole = counts == self.counts[of]
        long = counts > 1
        at = at[np.repeat(long, counts)]
        return (
            Chains(
                order=self.order[at],
                first=np.concatenate(([0], np.cumsum(counts[long]))),
                closed=(self.closed[of] & whole)[long],
            ),
            of[long],
            at,
        )


def chains_of(link: Ids) -> Chains:
    """Lines of two points and more, in the order of their first points.

    Args:
        link: (points, 2) the neighbour on each side, or -1; mutual.
    """
    onward = _onward(link)
    end, steps, left = _walked(onward)
    rings = _run(end, steps, left)
    cut = np.zeros(0, np.int32)
    if len(rings):
        cut = _cuts(onward, rings)
        ahead = _onward(_without(link, cut), rings)
        end[rings], steps[rings] = ahead, ahead != rings
        _run(end, steps, rings)
    return _ordered(end.reshape(-1, 2), steps.reshape(-1, 2), cut)


def _onward(link: Ids, halves: npt.NDArray[np.intp] | None = None) -> Ids:
    """Next of each half: half 2i + s is point i left through side s; ends lead to themselves.

    Args:
        link: Of all points.
        halves: Those that are asked of; all if none are given.
    """
    other = link.ravel() if halves is None else link.ravel().take(halves)
    halves = np.arange(len(other), dtype=np.int32) if halves is None else halves
    # It is entered through the side that leads back, and left through the other one.
    onward = 2 * other + (link[:, 0].take(other) == halves >> 1)
    ends = np.flatnonzero(other < 0)
    onward[ends] = halves[ends]
    return np.asarray(onward)


def _walked(onward: Ids) -> tuple[Ids, Ids, npt.NDArray[np.intp]]:
    """Ways back from all ends, a step at a time: most lines are short.

    Returns:
        The end of each half that was met and the steps to it; of others the next half, one step
        away; and these others.
    """
    halves = np.arange(len(onward), dtype=np.int32)
    end, steps = onward.copy(), (onward != halves).astype(np.int32)
    met = steps == 0
    at = root = np.flatnonzero(met).astype(np.int32)
    for step in range(1, _WALKED + 1):
        # What leads here is what this one leads to, seen the other way.
        back = at ^ 1
        before = onward.take(back)
        on = np.flatnonzero(before != back)
        at, root = before.take(on) ^ 1, root.take(on)
        if not len(at):
            break
        end[at], steps[at], met[at] = root, step, True
    return end, steps, np.flatnonzero(~met)


def _run(end: Ids, steps: Ids, going: npt.NDArray[np.intp]) -> npt.NDArray[np.intp]:
    """Follow each half to the last one of its way, and count the steps.

    In every round some way ends, unless all that are left go round for ever.

    Returns:
        The halves of rings.
    """
    own, ahead, left = steps.take(going), end.take(going), -1
    while True:
        more = steps.take(ahead)
        on = np.flatnonzero(more)
        going, ahead, own = going.take(on), ahead.take(on), own.take(on) + more.take(on)
        if len(going) == left:
            return going
        left = len(going)
        ahead = end.take(ahead)
        steps[going], end[going] = own, ahead


def _cuts(onward: Ids, rings: npt.NDArray[np.intp]) -> Ids:
    """The first point of each ring."""
    place = np.full(len(onward), -1, np.int32)
    place[rings] = np.arange(len(rings), dtype=np.int32)
    ahead, least = place[onward[rings]], (rings >> 1).astype(np.int32)
    while True:
        lower = np.minimum(least, least[ahead])
        if np.array_equal(lower, least):
            return np.unique(least)
        least, ahead = lower, ahead[ahead]


def _without(link: Ids, cut: Ids) -> Ids:
    """Links without the one through side 0 of each of these points."""
    link = link.copy()
    other = link[cut, 0]
    link[other, (link[other, 0] != cut).astype(np.int8)] = -1
    link[cut, 0] = -1
    return link


def _ordered(end: Ids, steps: Ids, cut: Ids) -> Chains:
    (one, two), (back, ahead) = (end >> 1).T, steps.T
    start = np.minimum(one, two)
    # Counted from the end with the lower number.
    position, size = np.where(one <= two, back, ahead), back + ahead + 1
    heads = np.flatnonzero((start == np.arange(len(start))) & (size > 1))
    ring = np.isin(heads, cut)
    first = np.concatenate(([0], np.cumsum(size[heads] + ring)))
    place = np.full(len(start), -1, np.int64)
    place[heads] = first[:-1]
    member = np.flatnonzero(size > 1)
    order = np.zeros(int(first[-1]), np.int64)
    order[place.take(start.take(member)) + position.take(member)] = member
    order[first[1:][ring] - 1] = heads[ring]
    return Chains(order=order, first=first, closed=ring)
