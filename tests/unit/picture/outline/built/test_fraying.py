"""What waves beside an upright edge is its fray, and is not drawn."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.built.given_built import built_lines, waving
from worker.picture.outline.built.fraying import fraying
from worker.picture.outline.polylines import Floats

WALL = [(50.0, 30.0), (50.0, 150.0)]


def quoins(aside_mm: float, long_mm: float = 60.0) -> Floats:
    """Steps of stones beside a wall, which runs down."""
    return waving((50.0, 50.0 + aside_mm), long_mm, high_mm=1.5)[:, ::-1]


def test_quoins_beside_a_corner_are_its_fray() -> None:
    assert fraying(built_lines(WALL, quoins(4.0), bent=[1])).tolist() == [False, True]


@pytest.mark.parametrize("aside_mm", [14.0, 40.0])
def test_what_is_further_away_is_none(aside_mm: float) -> None:
    assert not fraying(built_lines(WALL, quoins(aside_mm), bent=[1])).any()


def test_frames_have_fray_as_well() -> None:
    assert fraying(built_lines(quoins(4.0), bent=[0], others=[WALL])).all()


def test_mouldings_run_straight_beside_others() -> None:
    assert not fraying(built_lines(WALL, [(54.0, 50.0), (54.0, 110.0)])).any()


def test_what_is_worth_much_is_drawn() -> None:
    assert not fraying(built_lines(WALL, quoins(4.0), bent=[1], worth=1.0)).any()


def test_tiles_along_eaves_are_drawn() -> None:
    eaves, tiles = [(30.0, 50.0), (150.0, 50.0)], quoins(4.0)[:, ::-1]
    assert not fraying(built_lines(eaves, tiles, bent=[1])).any()


def test_two_that_wave_are_no_edge_and_fray() -> None:
    assert not fraying(built_lines(quoins(0.0), quoins(4.0), bent=[0, 1])).any()


def test_what_has_a_wall_beside_it_for_a_part_alone_stays() -> None:
    assert not fraying(built_lines([(50.0, 20.0), (50.0, 70.0)], quoins(4.0), bent=[1])).any()


def test_without_lines_nothing_frays() -> None:
    nothing = built_lines(WALL).taken(np.zeros(1, np.bool_))
    assert fraying(nothing).tolist() == []
