"""Lines joined end to end, by lines alone: how they run between their ends is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.chains import Chains, chains_of
from worker.picture.outline.points.linking import Ids

_Ints = npt.NDArray[np.int64]
_Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Joints:
    """Ends of lines that are joined.

    An end is twice the number of its line, and one more where the line ends.

    Attributes:
        one, two: (joints,) the ends; each is there once at most, and is of an open line.
    """

    one: _Ints
    two: _Ints


def joined_ends(chains: Chains, joints: Joints, link: Ids) -> tuple[Chains, _Ints]:
    """The lines that `chains_of` would find if joined ends were linked, in its order.

    Args:
        chains: Lines as `chains_of` found them, each point once.
        joints: Which of their ends are joined.
        link: What links points to these lines. Rings run as it says.

    Returns:
        The lines; and for each of their places the place in `chains.order`.
    """
    if not len(joints.one):
        return chains, np.arange(len(chains.order))
    other = np.full(2 * len(chains), -1, np.int64)
    other[joints.one], other[joints.two] = joints.two, joints.one
    alone = (other[::2] < 0) & (other[1::2] < 0)
    place = np.stack((chains.first[:-1], chains.first[1:] - 1), axis=1).ravel()
    runs = _runs(chains.order[place], other, ~alone)
    # Of a line both ends follow each other; a ring has its first end once more.
    step = np.arange(len(runs.order)) - np.repeat(runs.first[:-1], runs.counts)
    entered = (step % 2 == 0) & (step < np.repeat(runs.counts // 2 * 2, runs.counts))
    own = np.flatnonzero(alone)
    end = np.concatenate((2 * own, runs.order[entered]))
    of = np.concatenate((np.arange(len(own)), len(own) + runs.owner[entered]))
    at = _along(chains, place[end], end)
    counts = np.bincount(of, chains.counts[end // 2]).astype(np.int64)
    ring = np.concatenate((np.zeros(len(own), np.bool_), runs.closed))
    first = np.concatenate(([0], np.cumsum(counts)))
    for line in np.flatnonzero(ring).tolist():
        part = slice(first[line], first[line + 1])
        at[part] = _from_first(at[part], chains.order, link)
    ranked = np.argsort(chains.order[at[first[:-1]]], kind="stable")
    counts, closes = counts[ranked], ring[ranked].astype(np.int64)
    ends = np.cumsum(counts + closes)
    step = np.arange(int(ends[-1])) - np.repeat(ends - counts - closes, counts + closes)
    # The last place of a ring is its first one again.
    step %= np.repeat(counts, counts + closes)
    at = at[np.repeat(first[:-1][ranked], counts + closes) + step]
    closed = np.concatenate((chains.closed[own], runs.closed))[ranked]
    joined = Chains(order=chains.order[at], first=np.concatenate(([0], ends)), closed=closed)
    return joined, at


def _runs(point: _Ints, other: _Ints, which: _Flags) -> Chains:
    """Ends of some lines, as they follow each other.

    Args:
        point: (ends,) of each.
        other: (ends,) the one that each is joined to, or -1.
        which: (lines,) those that have one.
    """
    ends = np.flatnonzero(np.repeat(which, 2))
    ends = ends[np.argsort(point[ends], kind="stable")]
    number = np.full(len(point) + 1, -1, np.int32)
    number[ends] = np.arange(len(ends), dtype=np.int32)
    # A ring is cut through the first side: at a joint, not within a line.
    runs = chains_of(np.stack((number[other[ends]], number[ends ^ 1]), axis=1))
    return Chains(order=ends[runs.order], first=runs.first, closed=runs.closed)


def _along(chains: Chains, start: _Ints, end: _Ints) -> _Ints:
    """Places of lines one after the other, each from one of its ends to the other."""
    counts = chains.counts[end // 2]
    step = np.arange(int(counts.sum())) - np.repeat(np.cumsum(counts) - counts, counts)
    return np.asarray(np.repeat(start, counts) + np.repeat(1 - 2 * (end % 2), counts) * step)


def _from_first(at: _Ints, order: _Ints, link: Ids) -> _Ints:
    """Places of a ring from its first point on, towards what that is linked to second."""
    at = np.roll(at, -int(order[at].argmin()))
    (here, following), second = order[at[:2]], int(link[order[at[0]], 1])
    # What has no second neighbour of its own is joined there.
    onward = following == second if second >= 0 else following != link[here, 0]
    return at if onward else np.concatenate((at[:1], at[:0:-1]))
