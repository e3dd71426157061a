"""What runs beside a rim for a while says nothing."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.rims.test_drawing import AXES, arc, lines_of
from worker.picture.outline.rims.drawing import with_rims

RIM = arc(0.0, 6.2)


def beside(*ways: np.ndarray) -> list[bool]:
    """Which of some lines go, of a picture with the rim."""
    lines = lines_of(RIM, *ways)
    many = len(lines.places)
    found = with_rims(lines, np.full(many, 1.0), np.zeros(many, np.bool_)).beside
    assert not found[0]
    return found[1:].tolist()


def test_a_streak_along_a_rim_goes_inside_and_outside() -> None:
    assert beside(arc(1.0, 1.6, axes=AXES - 3), arc(3.0, 3.5, axes=AXES + 3)) == [True, True]


@pytest.mark.parametrize(
    "way",
    [
        arc(1.0, 3.2, axes=AXES - 3),
        arc(1.0, 1.6, axes=AXES - 15),
        np.stack((np.full(60, 120.0), 142.0 - np.arange(0, 18, 0.3)), axis=1),
    ],
    ids=["long", "far", "across"],
)
def test_what_is_long_far_from_it_or_runs_across_stays(way: np.ndarray) -> None:
    assert beside(way) == [False]


def test_what_is_where_the_rim_is_not_drawn_stays() -> None:
    lines = lines_of(arc(1.2, 6.2), arc(0.2, 0.7, axes=AXES - 3))
    many = len(lines.places)
    assert not with_rims(lines, np.full(many, 1.0), np.zeros(many, np.bool_)).beside.any()


def test_what_runs_along_a_ring_that_is_no_large_rim_stays() -> None:
    """A button has its edge and its rim, some mm apart."""
    small = arc(0.0, 6.2, axes=np.array((15.0, 12.0)))
    lines = lines_of(small, arc(1.0, 1.6, axes=np.array((14.0, 11.0))))
    many = len(lines.places)
    assert not with_rims(lines, np.full(many, 1.0), np.zeros(many, np.bool_)).beside.any()
