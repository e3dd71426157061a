"""What is ahead of an end is the first line that it would cross."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.given_lines import along
from worker.picture.outline.polylines import Polylines
from worker.picture.outline.ruling.ahead import ahead

LINES = Polylines.of([along((0, 20), (60, 20)), along((0, 30), (60, 30))])


def far(
    start: tuple[float, float],
    way: tuple[float, float],
    most: float,
    own: int = -1,
    lines: Polylines = LINES,
) -> float:
    unit = np.array([way]) / np.hypot(*way)
    return float(ahead(np.array([start]), unit, np.array([most]), lines, np.array([own]))[0])


def test_the_nearest_line_ahead_counts() -> None:
    assert far((30, 14), (0, 1), 20) == pytest.approx(6)
    assert far((30, 14), (0, 1), 20, own=0) == pytest.approx(16)


def test_what_is_behind_too_far_or_hardly_crossed_does_not() -> None:
    assert far((30, 14), (0, -1), 20) == np.inf
    assert far((30, 14), (0, 1), 5) == np.inf
    assert far((30, 19), (1, 0.2), 20) == np.inf


def test_no_ends_or_lines_are_no_trouble() -> None:
    nothing = np.zeros((0, 2))
    assert not len(ahead(nothing, nothing, np.zeros(0), LINES, np.zeros(0, np.int64)))
    assert far((30, 14), (0, 1), 20, lines=Polylines.of([])) == np.inf


def test_a_piece_is_ahead_however_far_away_it_begins() -> None:
    line = Polylines.of([np.array(((0.0, 5.0), (10.0, 5.0)))])
    start, way, own = np.array([(5.0, 3.0)]), np.array([(0.0, 1.0)]), np.array([-1])
    assert ahead(start, way, np.array([4.0]), line, own)[0] == pytest.approx(2)
    assert ahead(start, way, np.array([1.9]), line, own)[0] == np.inf


def test_what_may_not_go_on_meets_nothing() -> None:
    for most in (0.0, -1.0):
        assert far((30, 19.9), (0, 1), most) == np.inf
