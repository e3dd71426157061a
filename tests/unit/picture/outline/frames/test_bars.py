"""Columns, posts and poles have two sides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.frames.given_bars import AXIS, PLUMB, sides, ways_of
from tests.unit.picture.outline.frames.test_frames import Way, polylines
from tests.unit.picture.outline.frames.test_frames import line as line_of
from tests.unit.picture.outline.given_edges import edges_along
from worker.picture.outline.frames.bars import Bars, bars_of
from worker.picture.outline.frames.painted_edges import PaintedEdges


def bars(*edges: Way, axis: Way = AXIS, size_mm: tuple[float, float] = (600.0, 400.0)) -> Bars:
    ways = ways_of(polylines(line_of(*axis)))
    painted = PaintedEdges(replace(edges_along(*edges), size_mm=size_mm))
    return bars_of(ways, np.ones(1, np.bool_), PLUMB, painted)


@pytest.mark.parametrize("dark", [True, False])
@pytest.mark.parametrize(("left", "right"), [(98.0, 102.0), (100.0, 104.5), (95.0, 99.5)])
def test_a_bar_has_two_upright_sides(left: float, right: float, dark: bool) -> None:  # noqa: FBT001
    """As near as known drawings are held to, wherever on it the line runs."""
    edges = sides(left, right)
    found = bars(*(edges if dark else [way[::-1] for way in edges]))
    assert len(found) == 1
    across = sorted((found.one[0, :, 0].mean(), found.two[0, :, 0].mean()))
    assert across == pytest.approx([left, right], abs=0.3)
    assert np.ptp(found.one[0, :, 0]) < 1e-9


def test_one_edge_two_of_one_polarity_or_what_is_wide_are_none() -> None:
    left, right = sides(98.0, 102.0)
    for edges in ([left], [left, right[::-1]], sides(94.0, 106.0)):
        assert not len(bars(*edges))


def test_what_slants_or_is_short_is_none() -> None:
    assert not len(bars(*sides(98.0, 102.0), axis=[(96.0, 60.0), (104.0, 100.0)]))
    assert not len(bars(*sides(98.0, 102.0), axis=[(100.0, 60.0), (100.0, 70.0)]))


def test_bars_are_as_wide_as_the_print_is_large() -> None:
    """But none is so narrow that both sides would be one line in print."""
    large, small = (1200.0, 800.0), (150.0, 100.0)
    for wide, of in ((12.0, [large]), (3.0, []), (1.6, [small]), (1.0, [])):
        edges = sides(100 - wide / 2, 100 + wide / 2)
        assert [size for size in (large, small) if len(bars(*edges, size_mm=size))] == of
    found = bars(*sides(94.0, 106.0), size_mm=large)
    across = sorted((found.one[0, :, 0].mean(), found.two[0, :, 0].mean()))
    assert across == pytest.approx([94, 106], abs=0.3)
