"""Columns, posts and poles are drawn by both of their sides."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.frames.test_frames import Way, frames, polylines
from tests.unit.picture.outline.frames.test_frames import line as line_of
from tests.unit.picture.outline.given_edges import edges_along
from worker.picture.outline.frames.bars import Bars, bars_of
from worker.picture.outline.frames.giving_way import GivenWay, given_way
from worker.picture.outline.frames.painted_edges import PaintedEdges
from worker.picture.outline.polylines import Polylines
from worker.picture.outline.ruling.fitting import Stretches
from worker.picture.outline.ruling.meeting import Ways, ruled_ways
from worker.picture.outline.ruling.straightening import Ruled
from worker.picture.outline.ruling.uprights import Uprights
from worker.spec.strokes import FORM, INNER

PLUMB = Uprights(lean=np.zeros(3))
#: The reading's line down a column, which carries a beam and stands on a floor.
AXIS = [(100.0, 60.0), (100.0, 100.0)]
BEAM, FLOOR = [(80.0, 54.0), (120.0, 54.0)], [(80.0, 104.0), (120.0, 104.0)]


def sides(left: float, right: float, top: float = 60.0, foot: float = 100.0) -> list[Way]:
    """Edges of a bar that is dark inside, which is to the side of positive cross products."""
    return [[(left, foot), (left, top)], [(right, top), (right, foot)]]


def ways_of(lines: Polylines) -> Ways:
    """Each line as one stretch."""
    begin, end = lines.first[:-1], lines.first[1:] - 1
    way = lines.places[end] - lines.places[begin]
    return ruled_ways(
        lines.places,
        Stretches(
            begin=begin,
            end=end,
            middle=(lines.places[begin] + lines.places[end]) / 2,
            way=way / np.hypot(*way.T)[:, None],
        ),
    )


def bars(*edges: Way, axis: Way = AXIS) -> Bars:
    ways = ways_of(polylines(line_of(*axis)))
    return bars_of(ways, np.ones(1, np.bool_), PLUMB, PaintedEdges(edges_along(*edges)))


def drawn(lines: list[Way], edges: list[Way], *windows: Way) -> GivenWay:
    """What becomes of lines, the first of which is heavy."""
    whole = polylines(*(line_of(*way) for way in lines))
    ruled = Ruled(
        lines=whole,
        built=np.ones(len(lines), np.bool_),
        straight=np.ones(len(whole.places), np.bool_),
        ways=ways_of(whole),
        uprights=PLUMB,
    )
    weight = np.array([FORM] + [INNER] * (len(lines) - 1), np.uint8)
    given = frames(*windows) if windows else frames([(0.0, 0.0)] * 4).taken(np.zeros(1, np.bool_))
    return given_way(ruled, weight, given, PaintedEdges(edges_along(*edges)))


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


def test_a_line_gives_way_to_both_sides_which_end_on_what_they_meet() -> None:
    way = drawn([AXIS, BEAM, FLOOR], sides(98.0, 102.0))
    axis = way.stays[: len(line_of(*AXIS))]
    assert not axis.any()
    assert way.stays[len(axis) :].all()
    assert way.weight.tolist() == [FORM, FORM]
    for at in range(2):
        side = way.frames.places[way.frames.owner == at]
        assert np.sort(side[[0, -1], 1]) == pytest.approx([54, 104], abs=0.1)


def test_a_bar_that_meets_nothing_stays_a_line() -> None:
    assert drawn([AXIS], sides(98.0, 102.0)).stays.all()


def test_pieces_of_a_bar_are_one() -> None:
    pieces = [[(100.0, 60.0), (100.0, 78.0)], [(100.0, 84.0), (100.0, 102.0)]]
    edges = [*sides(98.0, 102.0, 60.0, 78.0), *sides(98.0, 102.0, 84.0, 102.0)]
    way = drawn([*pieces, BEAM, FLOOR], edges)
    assert len(way.frames.closed) == 2
    assert way.frames.lengths_mm == pytest.approx([50, 50], abs=0.2)


def test_a_bar_of_a_window_that_is_drawn_is_none_of_its_own() -> None:
    window = [(84.0, 56.0), (116.0, 56.0), (116.0, 103.0), (84.0, 103.0)]
    around = [[window[at], window[(at + 1) % 4]] for at in range(4)]
    way = drawn([AXIS, *around], sides(98.0, 102.0), window)
    assert way.stays[: len(line_of(*AXIS))].all()


def test_where_nothing_agrees_what_is_upright_there_are_none() -> None:
    whole = polylines(*(line_of(*way) for way in (AXIS, BEAM, FLOOR)))
    ruled = Ruled(
        lines=whole,
        built=np.ones(3, np.bool_),
        straight=np.ones(len(whole.places), np.bool_),
        ways=ways_of(whole),
    )
    given = frames([(0.0, 0.0)] * 4).taken(np.zeros(1, np.bool_))
    painted = PaintedEdges(edges_along(*sides(98.0, 102.0)))
    assert given_way(ruled, np.zeros(3, np.uint8), given, painted).stays.all()
