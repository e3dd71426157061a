"""What is built has no line by itself: short ones that meet nothing are not drawn."""

from __future__ import annotations

import numpy as np

from tests.unit.picture.outline.built.given_built import built_lines, waving
from worker.picture.outline.built.belonging import belonging, free_ends

WALL = [(50.0, 50.0), (50.0, 150.0)]
STUB = [(60.0, 85.0), (60.0, 105.0)]
SILL = [(51.0, 80.0), (70.0, 80.0)]
FRAME = [(80.0, 80.0), (100.0, 80.0), (100.0, 100.0), (80.0, 100.0), (80.0, 80.0)]


def test_a_stub_beside_a_wall_is_left_out_and_a_sill_at_it_is_not() -> None:
    assert belonging(built_lines(WALL, STUB, SILL)).tolist() == [True, False, True]


def test_what_is_long_needs_nothing_to_belong_to() -> None:
    assert belonging(built_lines([(60.0, 80.0), (60.0, 125.0)])).all()


def test_short_lines_that_make_a_long_one_belong_together() -> None:
    pieces = [[(60.0, y), (60.0, y + 19.0)] for y in (60.0, 80.0, 100.0)]
    assert belonging(built_lines(*pieces)).all()
    assert not belonging(built_lines(*pieces[::2])).any()


def test_what_is_worth_much_is_drawn_unless_it_is_hardly_longer_than_a_dot() -> None:
    assert belonging(built_lines(STUB, worth=1.0)).all()
    assert not belonging(built_lines([(60.0, 80.0), (60.0, 90.0)], worth=1.0)).any()


def test_less_is_left_out_as_texture_is_wanted() -> None:
    assert not belonging(built_lines(STUB), less=1.0).any()
    assert belonging(built_lines(STUB), less=0.4).all()


def test_bent_lines_are_longer_than_ruled_ones() -> None:
    for bent in ([], [0]):
        kept = belonging(built_lines(waving((40.0, 80.0), 100.0), bent=bent))
        assert kept.all() == (not bent)


def test_what_is_bent_and_goes_on_beyond_the_picture_may_be_anything() -> None:
    assert belonging(built_lines(waving((1.0, 80.0), 60.0), bent=[0])).all()


def test_a_bent_line_that_hangs_on_a_wall_by_one_end_is_left_out_with_what_hangs_on_it() -> None:
    spur, end = waving((50.5, 80.0), 20.0), waving((58.0, 88.5), 15.0)
    lines = built_lines(WALL, spur, end, bent=[1, 2])
    assert np.hypot(*(spur - end[0]).T).min() < 2 + 4
    assert belonging(lines).tolist() == [True, False, False]


def test_a_bent_line_that_goes_on_from_the_end_of_another_is_no_spur() -> None:
    assert belonging(built_lines(WALL, waving((50.0, 150.5), 20.0), bent=[1])).all()


def test_rings_belong_to_themselves_however_small_they_are() -> None:
    corners = [(80.0, 80.0), (88.0, 80.0), (88.0, 88.0), (80.0, 88.0), (80.0, 80.0)]
    assert belonging(built_lines(corners)).all()
    # One that hardly lacks anything is one, too.
    assert belonging(built_lines([*corners[:-1], (80.0, 81.0)])).all()
    assert not belonging(built_lines(corners[:-1])).any()


def test_what_ends_at_a_frame_belongs_to_it() -> None:
    mullion = [(90.0, 80.5), (90.0, 99.0)]
    assert belonging(built_lines(mullion, others=[FRAME])).all()
    assert not belonging(built_lines(mullion)).any()


def test_free_ends_are_those_that_meet_nothing_of_lines_that_are_held_or_long() -> None:
    free = free_ends(built_lines(WALL, STUB, SILL))
    assert free.tolist() == [[True, True], [False, False], [False, True]]


def test_without_lines_there_is_nothing_to_leave_out() -> None:
    lines = built_lines(WALL).taken(np.zeros(1, np.bool_))
    assert len(belonging(lines)) == 0
    assert free_ends(lines).shape == (0, 2)
