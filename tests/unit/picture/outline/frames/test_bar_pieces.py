"""Pieces of one bar are one."""

from __future__ import annotations

from itertools import permutations
from time import process_time

import numpy as np
import pytest

from tests.unit.picture.outline.frames.given_bars import BEAM, FLOOR, drawn, sides
from worker.picture.outline.frames.bar_pieces import whole
from worker.picture.outline.frames.bars import Bars


def test_pieces_of_a_bar_are_one() -> None:
    pieces = [[(100.0, 60.0), (100.0, 78.0)], [(100.0, 84.0), (100.0, 102.0)]]
    edges = [*sides(98.0, 102.0, 60.0, 78.0), *sides(98.0, 102.0, 84.0, 102.0)]
    way = drawn([*pieces, BEAM, FLOOR], edges)
    assert len(way.frames.closed) == 2
    assert way.frames.lengths_mm == pytest.approx([50, 50], abs=0.2)


def pieces(*given: tuple[float, float, float, float]) -> Bars:
    """Upright pieces from left to right and from top to foot; the second side is the left one."""
    left, right, top, foot = np.array(given, np.float64).T
    one, two = (np.stack((np.stack((x, top), 1), np.stack((x, foot), 1)), 1) for x in (right, left))
    at = np.arange(len(given))
    return Bars(begin=at, end=at, one=one, two=two)


def test_pieces_join_the_longest_as_far_as_it_has_grown() -> None:
    """The last is too far from the first alone, and a little narrower."""
    given = (100, 104, 0, 60), (100, 104, 80, 102), (101, 104, 121, 141)
    for order in permutations(given):
        found = whole(pieces(*order))
        assert found.begin.tolist() == [order.index(given[0])]
        assert found.one[0] == pytest.approx(np.array(((104, 0), (104, 141))))
        assert found.two[0] == pytest.approx(np.array(((100, 0), (100, 141))))


def test_a_shorter_one_that_is_in_another_or_beside_it_is_none() -> None:
    """Such as is so along half of its length; of what goes on further, both are bars."""
    long, other = (100, 104, 0, 60), (101, 106, 50, 100)
    for short in ((102, 106, 40, 64), (105, 109, 20, 50), (101, 103, 10, 30)):
        assert whole(pieces(short, long)).begin.tolist() == [1]
    assert whole(pieces(other, long)).begin.tolist() == [0, 1]


def test_a_piece_beside_what_another_has_grown_to_is_none() -> None:
    """It is beside none of the pieces that are one."""
    given = (100, 104, 0, 60), (100, 104, 80, 110), (102, 106, 62, 78)
    assert whole(pieces(*given)).begin.tolist() == [0]


def test_bars_are_compared_with_those_that_are_near_only() -> None:
    """As many as four thousand, in two pieces each."""
    left = np.repeat(np.arange(4000) * 12.0, 2)
    top = np.tile((0.0, 40.0), 4000)
    many = pieces(*np.stack((left, left + 4, top, top + 30), axis=1).tolist())
    begun = process_time()
    found = whole(many)
    # Each with each takes more than ten times as long as this does.
    assert process_time() - begun < 3.0
    assert len(found) == 4000
    assert np.hypot(*(found.one[:, 1] - found.one[:, 0]).T) == pytest.approx(70)
