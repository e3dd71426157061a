"""Sides of frames and bars are drawn once each."""

from __future__ import annotations

import numpy as np
import pytest

from worker.picture.outline.frames.drawn_sides import DrawnSides
from worker.spec.strokes import FORM, INNER

WINDOW = np.array(((40.0, 30.0), (64.0, 30.0), (64.0, 70.0), (40.0, 70.0)))


def upright(across: float, top: float = 30.0, foot: float = 70.0) -> np.ndarray:
    return np.array(((across, top), (across, foot)))


def across(sides: DrawnSides) -> list[float]:
    """Where upright lines that are drawn are, from left to right."""
    lines = sides.lines
    parts = np.split(lines.places, lines.first[1:-1])
    return sorted(float(part[:, 0].mean()) for part in parts)


def test_a_side_that_two_frames_share_is_drawn_once() -> None:
    sides = DrawnSides()
    sides.draw(WINDOW, FORM)
    sides.draw(WINDOW + np.array((24.5, 0.0)), INNER)
    assert sides.weight == [FORM, INNER]
    assert sides.lines.lengths_mm == pytest.approx([128, 88], abs=1.1)


@pytest.mark.parametrize("apart", [2.5, 6.0])
def test_balusters_beside_each_other_have_two_sides_each(apart: float) -> None:
    """Six that are 3 mm wide."""
    sides, left = DrawnSides(), 40.0 + np.arange(6) * (3 + apart)
    for one in left.tolist():
        sides.draw_bar((upright(one), upright(one + 3)), FORM)
    assert across(sides) == pytest.approx(np.sort(np.concatenate((left, left + 3))).tolist())


def test_a_side_that_two_bars_share_is_drawn_once() -> None:
    sides = DrawnSides()
    for one in (40.0, 44.5):
        sides.draw_bar((upright(one), upright(one + 4)), FORM)
    assert across(sides) == pytest.approx([40, 44, 48.5])


def test_a_bar_that_is_beside_a_frame_has_no_side_near_to_the_frames() -> None:
    """As near as balusters may be to each other."""
    sides = DrawnSides()
    sides.draw(WINDOW, FORM)
    sides.draw_bar((upright(66.5, 32, 68), upright(70.5, 32, 68)), INNER)
    assert sides.weight == [FORM, INNER]
    assert sides.lines.places[sides.lines.owner == 1, 0] == pytest.approx(70.5)
