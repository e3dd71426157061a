"""A line passes from one edge to another as one curve."""

from __future__ import annotations

import numpy as np

from tests.unit.picture.outline.given_lines import along
from worker.picture.outline.closing.passages import passed_over
from worker.picture.outline.polylines import Floats, Polylines

#: Two sides of a rim 1.5 mm apart.
APART_MM = 1.5


def jumping(*, edge_between: bool = False) -> tuple[Polylines, np.ndarray]:
    """A line along one side of a rim and then along the other, and what is of edges."""
    parts = along((0.0, 0.0), (30.0, 0.0)), along((31.0, APART_MM), (61.0, APART_MM))
    between = np.array(((30.5, APART_MM / 2),))
    places = np.concatenate((parts[0], between, parts[1]))
    edge = np.ones(len(places), bool)
    edge[len(parts[0])] = edge_between
    return (
        Polylines(places=places, first=np.array((0, len(places))), closed=np.zeros(1, bool)),
        edge,
    )


def steepest_deg(lines: Polylines) -> float:
    ways = np.diff(lines.places, axis=0)
    return float(np.degrees(np.abs(np.arctan2(ways[:, 1], ways[:, 0]))).max())


def passed(lines: Polylines, edge: np.ndarray, *, stays: bool = False) -> Polylines:
    count = len(edge)
    return passed_over(lines, edge, np.full(count, stays), np.full(count, 0.75))


def test_a_jump_becomes_a_curve() -> None:
    lines, edge = jumping()
    curve = passed(lines, edge)
    assert steepest_deg(lines) > 40
    assert steepest_deg(curve) < 25
    off: Floats = np.hypot(*(curve.places - lines.places).T)
    assert off.max() < APART_MM / 2
    assert off[:45].max() == off[-45:].max() == 0


def test_what_the_picture_has_as_one_edge_stays() -> None:
    lines, edge = jumping(edge_between=True)
    assert np.array_equal(passed(lines, edge).places, lines.places)


def test_ruled_lines_stay() -> None:
    lines, edge = jumping()
    assert np.array_equal(passed(lines, edge, stays=True).places, lines.places)


def test_a_corner_is_no_jump() -> None:
    places = np.concatenate((along((0.0, 0.0), (30.0, 0.0)), along((31.0, 1.0), (31.0, 30.0))))
    edge = np.ones(len(places), bool)
    edge[61] = False
    lines = Polylines(places=places, first=np.array((0, len(places))), closed=np.zeros(1, bool))
    assert np.array_equal(passed(lines, edge).places, places)
