"""Windows in a row and in a column are alike, and others are not."""

from __future__ import annotations

import numpy as np
import pytest

from worker.picture.outline.frames.alike import alike, fourths


def window(left: float, top: float, wide: float = 12.0, high: float = 20.0) -> np.ndarray:
    """A window, clockwise as it is seen."""
    right, bottom = left + wide, top + high
    return np.array(((left, top), (right, top), (right, bottom), (left, bottom)))


def test_windows_of_a_storey_are_alike() -> None:
    row = [window(10, 10), window(40, 10), window(70, 10)]
    assert alike(np.stack(row)).all()


def test_windows_above_each_other_are_alike() -> None:
    assert alike(np.stack([window(10, 10), window(10, 40)])).all()


@pytest.mark.parametrize(
    "other",
    [window(40, 16), window(40, 10, high=34.0), window(40, 10, wide=40.0), window(160, 10)],
    ids=["lower", "higher", "wider", "far away"],
)
def test_others_are_not(other: np.ndarray) -> None:
    assert not alike(np.stack([window(10, 10), other])).any()


def test_what_lies_on_another_is_not_beside_it() -> None:
    """Two fits of one window are no second window."""
    assert not alike(np.stack([window(10, 10), window(14, 10)])).any()


def test_a_row_may_recede() -> None:
    """Lintels and sills on two lines that run together, as in perspective."""
    row = []
    for left in (10.0, 30.0):
        x = np.array((left, left + 12))
        top, bottom = 10 + 0.08 * x, 34 - 0.08 * x
        row.append(np.array(((x[0], top[0]), (x[1], top[1]), (x[1], bottom[1]), (x[0], bottom[0]))))
    assert alike(np.stack(row)).all()


def test_the_corner_that_comes_first_does_not_matter() -> None:
    turned = [np.roll(window(10, 10), 1, axis=0), np.roll(window(40, 10), 2, axis=0)]
    assert alike(np.stack(turned)).all()


def test_panes_next_to_each_other_may_differ_in_height() -> None:
    assert alike(np.stack([window(10, 10), window(10, 31, high=10.0)])).all()
    assert not alike(np.stack([window(10, 10), window(10, 60, high=10.0)])).any()


def test_the_fourth_of_three_is_between_their_lines() -> None:
    three = np.stack([window(10, 10), window(26, 10), window(10, 34)])
    found, _ = fourths(three)
    assert len(found)
    off = np.abs(found - window(26, 34)).max(axis=(1, 2))
    assert off.min() < 1e-9


def test_no_frames_have_none() -> None:
    nothing = np.zeros((0, 4, 2))
    assert not len(alike(nothing))
    assert not len(fourths(nothing)[0])
