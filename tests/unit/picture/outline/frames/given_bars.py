"""Columns, with the reading's line down each, the beam that it carries and a floor."""

from __future__ import annotations

import numpy as np

from tests.unit.picture.outline.frames.test_frames import Way, frames, polylines
from tests.unit.picture.outline.frames.test_frames import line as line_of
from tests.unit.picture.outline.given_edges import edges_along
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
