"""Segments have lines along them, or are near to lines that run elsewhere."""

from __future__ import annotations

import numpy as np
import pytest

from worker.picture.outline.frames.alongside import drawn_along
from worker.picture.outline.points.edge_points import EDGE
from worker.picture.outline.polylines import Floats, Polylines
from worker.picture.outline.ruling.segments import Segments

Place = tuple[float, float] | Floats


def segment(start: Place, stop: Place) -> Segments:
    return Segments(
        start=np.array([start]),
        stop=np.array([stop]),
        levels=np.array([60.0]),
        kind=np.array([EDGE], np.uint8),
    )


def line(start: Place, stop: Place) -> Polylines:
    """A straight line with two places for each mm."""
    many = int(2 * np.hypot(stop[0] - start[0], stop[1] - start[1])) + 1
    return Polylines(
        places=np.linspace(start, stop, many),
        first=np.array([0, many]),
        closed=np.zeros(1, np.bool_),
    )


def along(one: Segments, other: Polylines, *, built: bool = True) -> bool:
    return bool(drawn_along(one, other, np.array([built]))[0])


@pytest.mark.parametrize("turn", np.deg2rad([0, 30, 75, 90, 140]).tolist())
def test_a_line_runs_along_a_segment_whichever_way_they_run(turn: float) -> None:
    """It is 2 mm beside, which is less than one square."""
    way, across = np.array((np.cos(turn), np.sin(turn))), np.array((-np.sin(turn), np.cos(turn)))
    ends = [100.0 + side * 20 * way for side in (-1, 1)]
    beside = [100.0 + side * 20 * way + 2.0 * across for side in (-1, 1)]
    assert along(segment(*ends), line(*beside))
    assert along(segment(*ends), line(*beside[::-1]))


def test_what_crosses_a_segment_or_is_far_from_it_is_not_along_it() -> None:
    edge = segment((80.0, 100.0), (120.0, 100.0))
    assert not along(edge, line((100.0, 80.0), (100.0, 120.0)))
    assert not along(edge, line((80.0, 110.0), (120.0, 110.0)))


def test_a_line_along_half_of_a_segment_is_enough_and_a_tenth_is_not() -> None:
    edge = segment((80.0, 100.0), (160.0, 100.0))
    assert along(edge, line((80.0, 100.0), (120.0, 100.0)))
    assert not along(edge, line((80.0, 100.0), (88.0, 100.0)))


def test_lines_of_what_is_not_built_do_not_count() -> None:
    ends = (80.0, 100.0), (120.0, 100.0)
    assert along(segment(*ends), line(*ends))
    assert not along(segment(*ends), line(*ends), built=False)
