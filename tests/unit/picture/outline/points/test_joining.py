"""Lines joined end to end, beside the same points linked and put in order anew."""

from __future__ import annotations

import numpy as np
import pytest

from worker.picture.outline.points.chains import Chains, chains_of
from worker.picture.outline.points.joining import Joints, joined_ends
from worker.picture.outline.points.linking import Ids


def lines(random: np.random.Generator, count: int) -> Ids:
    """Links of lines and rings whose points are numbered at random."""
    sizes = random.integers(3, 9, count)
    number = random.permutation(int(sizes.sum()))
    link = np.full((len(number), 2), -1, np.int32)
    for points in np.split(number, np.cumsum(sizes)[:-1]):
        ring = random.random() < 0.2
        for one, two in zip(points, np.roll(points, -1), strict=True):
            if ring or two != points[0]:
                linked(link, one, two, random)
    return link


def linked(link: Ids, one: int, two: int, random: np.random.Generator) -> None:
    """Link two points, each on a side that is free."""
    for here, there in ((one, two), (two, one)):
        link[here, random.choice(np.flatnonzero(link[here] < 0))] = there


def ends_of(chains: Chains) -> np.ndarray:
    """The ends of open lines, as joints have them."""
    return np.flatnonzero(np.repeat(~chains.closed, 2))


@pytest.mark.parametrize("seed", range(40))
def test_joined_lines_are_those_of_linked_points(seed: int) -> None:
    random = np.random.default_rng(seed)
    link = lines(random, 14)
    chains = chains_of(link)
    ends = random.permutation(ends_of(chains))
    one, two = ends[: 2 * (len(ends) // 3)].reshape(2, -1)
    joined, at = joined_ends(chains, Joints(one=one, two=two), link)
    point = chains.order[np.stack((chains.first[:-1], chains.first[1:] - 1), axis=1).ravel()]
    for a, b in zip(point[one], point[two], strict=True):
        for here, there in ((a, b), (b, a)):
            link[here, int(link[here, 0] >= 0)] = there
    anew = chains_of(link)
    assert joined.order.tolist() == anew.order.tolist()
    assert joined.first.tolist() == anew.first.tolist()
    assert joined.closed.tolist() == anew.closed.tolist()
    assert chains.order[at].tolist() == anew.order.tolist()


def test_some_of_these_are_rings_of_one_line_and_of_several() -> None:
    random = np.random.default_rng(0)
    link = lines(random, 14)
    chains = chains_of(link)
    some = ends_of(chains)
    # One joined to itself; the next two to each other at both ends.
    joints = Joints(one=some[[0, 2, 3]], two=some[[1, 4, 5]])
    joined, _ = joined_ends(chains, joints, link)
    assert joined.closed.sum() == chains.closed.sum() + 2
    assert len(joined) == len(chains) - 1


def test_nothing_joined_is_as_before() -> None:
    chains = chains_of(lines(np.random.default_rng(3), 5))
    none = np.zeros(0, np.int64)
    joined, at = joined_ends(chains, Joints(one=none, two=none), np.zeros((0, 2), np.int32))
    assert joined is chains
    assert at.tolist() == list(range(len(chains.order)))
