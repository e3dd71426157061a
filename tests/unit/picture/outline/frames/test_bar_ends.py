"""Both sides of a bar end on what it meets."""

from __future__ import annotations

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
