"""The likeliest ways through strips of a reading made for it."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.contours.test_contour_lines import MAP, band, placed, reading
from worker.picture.outline.closing import way_strips
from worker.picture.outline.closing.way_strips import WayStrips, steps_along

#: Where strips begin and end, in pixels of the map, and how far the line between leaves them.
HEIGHTS, LEFT, RIGHT, BOW = (30.0, 60.0, 90.0, 120.0), 40.0, 140.0, 6.0


def bow(x: np.ndarray) -> np.ndarray:
    """How far lines are from the straight way, so far across."""
    return BOW * np.sin(np.pi * np.clip((x - LEFT) / (RIGHT - LEFT), 0, 1)) ** 2


def bows() -> WayStrips:
    """Strips around straight ways whose lines leave them."""
    down, across = np.mgrid[: MAP[0], : MAP[1]].astype(float)
    far = np.min([np.abs(down - height - bow(across)) for height in HEIGHTS], axis=0)
    curve = np.linspace(LEFT, RIGHT, 48) + 1j * np.array(HEIGHTS)[:, None]
    half = np.full(len(HEIGHTS), 10.0)
    return WayStrips(placed=placed(reading(band(far))), curve=curve, half=half, rows=25)


def test_the_likeliest_way_follows_a_line_that_leaves_the_curve() -> None:
    way, likely = bows().likeliest()
    assert np.abs(way.imag - np.array(HEIGHTS)[:, None] - bow(way.real)).max() < 1.0
    assert likely.mean() > 0.9


@pytest.mark.parametrize("at_once", [1, 3])
def test_ways_are_the_same_in_parts(at_once: int, monkeypatch: pytest.MonkeyPatch) -> None:
    way, likely = bows().likeliest()
    monkeypatch.setattr(way_strips, "_AT_ONCE", at_once)
    parts = bows().likeliest()
    assert np.array_equal(parts[0], way)
    assert np.array_equal(parts[1], likely)


def test_steps_along_a_way_are_of_one_length() -> None:
    way = np.array([[0, 3 + 4j, 6 + 8j]])
    assert np.allclose(steps_along(way), 0.6 + 0.8j)
    assert not len(steps_along(way[:0]))
