"""A ruled line goes straight on where it leaves its way for a moment."""

from __future__ import annotations

import numpy as np
import pytest

from worker.picture.outline.polylines import Floats, Polylines
from worker.picture.outline.ruling.bridging import bridged
from worker.picture.outline.ruling.fitting import Stretches


def eaves(second: float, slope: float = 0.0) -> Polylines:
    """A line that has a hook of 2 mm after 20 mm, and goes on at another height for as long."""
    x = np.arange(0, 44, 0.25)
    hook = np.where((x > 20) & (x < 24), 2.0 * np.sin((x - 20) / 4 * np.pi), 0.0)
    y = hook + np.where(x < 22, 0.0, second + slope * (x - 24))
    return Polylines(
        places=np.stack((x, y), axis=1), first=np.array([0, len(x)]), closed=np.zeros(1, np.bool_)
    )


def two_stretches(lines: Polylines) -> Stretches:
    """What is before the hook and after it."""
    begin, end = np.array([0, 96]), np.array([80, len(lines.places) - 1])
    way: Floats = lines.places[end] - lines.places[begin]
    way /= np.hypot(*way.T)[:, None]
    middle = (lines.places[begin] + lines.places[end]) / 2
    return Stretches(begin=begin, end=end, middle=middle, way=way)


def both(lines: Polylines) -> Stretches:
    return bridged(lines, two_stretches(lines), np.full(len(lines.places), 0.5))


def test_a_hook_between_two_stretches_of_one_line_is_left_out() -> None:
    lines = eaves(0.4)
    found = both(lines)
    assert (found.begin.tolist(), found.end.tolist()) == ([0], [len(lines.places) - 1])
    assert abs(found.way[0, 1]) < 0.02
    assert 0.1 < found.middle[0, 1] < 0.3


def test_stretches_at_two_heights_or_in_two_directions_stay_two() -> None:
    assert len(both(eaves(3.0))) == 2
    assert len(both(eaves(0.0, slope=0.3))) == 2


def test_one_stretch_or_none_stays() -> None:
    lines = eaves(0.4)
    some = two_stretches(lines)
    near = np.full(len(lines.places), 0.5)
    for many in (0, 1):
        found = bridged(lines, some.taken(np.arange(2) < many), near)
        assert np.array_equal(found.begin, some.begin[:many])
        assert np.array_equal(found.way, some.way[:many])


def hooked(*heights: float) -> tuple[Polylines, Stretches]:
    """Stretches of 20 mm at some heights, with a hook of 2 mm between each and the next."""
    x = np.arange(0, 24 * len(heights) - 4, 0.25)
    on = x % 24
    hook = np.where(on > 20, 2.0 * np.sin((on - 20) / 4 * np.pi), 0.0)
    y = np.array(heights)[(x // 24).astype(np.int64)] + hook
    lines = Polylines(
        places=np.stack((x, y), axis=1), first=np.array([0, len(x)]), closed=np.zeros(1, np.bool_)
    )
    begin = 96 * np.arange(len(heights))
    end = begin + 79
    way = np.tile((1.0, 0.0), (len(heights), 1))
    middle = (lines.places[begin] + lines.places[end]) / 2
    return lines, Stretches(begin=begin, end=end, middle=middle, way=way)


@pytest.mark.parametrize("many", [3, 4])
def test_every_hook_of_a_line_is_left_out(many: int) -> None:
    """What lies between joined stretches is not held against the next one."""
    lines, stretches = hooked(*(0.2 * (at % 2) for at in range(many)))
    found = bridged(lines, stretches, np.full(len(lines.places), 0.5))
    assert (found.begin.tolist(), found.end.tolist()) == ([0], [len(lines.places) - 1])
    assert abs(found.way[0, 1]) < 0.02
    assert 0.0 < found.middle[0, 1] < 0.2


def test_a_stretch_is_joined_to_all_that_are_joined_before_it() -> None:
    """One 2.2 mm higher is in line with the last one, but not with the two that are on one line."""
    for heights, begins in (((0.0, 2.2), [0]), ((0.0, 0.0, 2.2), [0, 192])):
        lines, stretches = hooked(*heights)
        found = bridged(lines, stretches, np.full(len(lines.places), 0.5))
        assert found.begin.tolist() == begins


def test_a_step_parts_two_pairs() -> None:
    lines, stretches = hooked(0.0, 0.0, 5.0, 5.0)
    found = bridged(lines, stretches, np.full(len(lines.places), 0.5))
    assert (found.begin.tolist(), found.end.tolist()) == ([0, 192], [175, 367])
