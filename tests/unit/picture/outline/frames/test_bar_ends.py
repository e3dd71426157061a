"""Both sides of a bar end on what it meets, and pieces of one are one."""

from __future__ import annotations

from itertools import permutations
from time import process_time

import numpy as np
import pytest

from tests.unit.picture.outline.frames.given_bars import (
    AXIS,
    BEAM,
    FLOOR,
    drawn,
    sides,
    ways_of,
)
from tests.unit.picture.outline.frames.test_frames import frames, polylines
from tests.unit.picture.outline.frames.test_frames import line as line_of
from tests.unit.picture.outline.given_edges import edges_along
from worker.picture.outline.frames.bar_ends import whole
from worker.picture.outline.frames.bars import Bars
from worker.picture.outline.frames.giving_way import given_way
from worker.picture.outline.frames.painted_edges import PaintedEdges
from worker.picture.outline.ruling.straightening import Ruled
from worker.spec.strokes import FORM


def test_a_line_gives_way_to_both_sides_which_end_on_what_they_meet() -> None:
    way = drawn([AXIS, BEAM, FLOOR], sides(98.0, 102.0))
    axis = way.stays[: len(line_of(*AXIS))]
    assert not axis.any()
    assert way.stays[len(axis) :].all()
    assert way.weight.tolist() == [FORM, FORM]
    for at in range(2):
        side = way.frames.places[way.frames.owner == at]
        assert np.sort(side[[0, -1], 1]) == pytest.approx([54, 104], abs=0.1)


def test_two_columns_beside_each_other_have_four_sides() -> None:
    one, two = ([(x, 60.0), (x, 100.0)] for x in (92.0, 98.5))
    way = drawn([one, two, BEAM, FLOOR], [*sides(90.0, 94.0), *sides(96.5, 100.5)])
    across = [way.frames.places[way.frames.owner == at, 0].mean() for at in range(4)]
    assert sorted(across) == pytest.approx([90, 94, 96.5, 100.5], abs=0.3)


def test_a_bar_that_meets_nothing_stays_a_line() -> None:
    assert drawn([AXIS], sides(98.0, 102.0)).stays.all()


def test_pieces_of_a_bar_are_one() -> None:
    pieces = [[(100.0, 60.0), (100.0, 78.0)], [(100.0, 84.0), (100.0, 102.0)]]
    edges = [*sides(98.0, 102.0, 60.0, 78.0), *sides(98.0, 102.0, 84.0, 102.0)]
    way = drawn([*pieces, BEAM, FLOOR], edges)
    assert len(way.frames.closed) == 2
    assert way.frames.lengths_mm == pytest.approx([50, 50], abs=0.2)


def pieces(*given: tuple[float, float, float, float]) -> Bars:
    """Upright pieces from left to right and from top to foot."""
    left, right, top, foot = np.array(given).T
    one, two = (np.stack((np.stack((x, top), 1), np.stack((x, foot), 1)), 1) for x in (left, right))
    at = np.arange(len(given))
    return Bars(begin=at, end=at, one=one, two=two)


def test_pieces_join_the_longest_as_far_as_it_has_grown() -> None:
    """The last is too far from the first alone, and a little narrower."""
    given = (100, 104, 0, 60), (100, 104, 80, 102), (101, 104, 121, 141)
    for order in permutations(given):
        found = whole(pieces(*order))
        assert found.begin.tolist() == [order.index(given[0])]
        assert found.one[0] == pytest.approx(np.array(((100, 0), (100, 141))))
        assert found.two[0] == pytest.approx(np.array(((104, 0), (104, 141))))


def test_a_shorter_piece_takes_out_no_longer_bar() -> None:
    """Over a gap that is too long, it goes on to where the longer one is beside it no more."""
    found = whole(pieces((100, 104, 0, 60), (102, 106, 70, 95), (102, 106, 40, 64)))
    assert 0 in found.begin


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


def test_a_bar_of_a_window_that_is_drawn_is_none_of_its_own() -> None:
    window = [(84.0, 56.0), (116.0, 56.0), (116.0, 103.0), (84.0, 103.0)]
    around = [[window[at], window[(at + 1) % 4]] for at in range(4)]
    way = drawn([AXIS, *around], sides(98.0, 102.0), window)
    assert way.stays[: len(line_of(*AXIS))].all()


def test_where_nothing_agrees_what_is_upright_there_are_none() -> None:
    whole = polylines(*(line_of(*way) for way in (AXIS, BEAM, FLOOR)))
    ruled = Ruled(
        lines=whole,
        built=np.ones(3, np.bool_),
        straight=np.ones(len(whole.places), np.bool_),
        ways=ways_of(whole),
    )
    given = frames([(0.0, 0.0)] * 4).taken(np.zeros(1, np.bool_))
    painted = PaintedEdges(edges_along(*sides(98.0, 102.0)))
    assert given_way(ruled, np.zeros(3, np.uint8), given, painted).stays.all()
