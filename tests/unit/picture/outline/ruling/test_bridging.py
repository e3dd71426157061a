"""A ruled line goes straight on where it leaves its way for a moment."""

from __future__ import annotations

import numpy as np

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
