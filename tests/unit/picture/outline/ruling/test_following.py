"""Lines of what is built lie on the picture's straight edges."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.given_edges import edges_along
from worker.picture.outline.polylines import Polylines
from worker.picture.outline.ruling.following import followed, following
from worker.picture.outline.ruling.segments import segments_of
from worker.picture.outline.ruling.straightening import ruled

#: Two edges of a bar, 1.6 mm apart, of which the first is longer.
EDGES = edges_along([(10.0, 20.0), (60.0, 20.0)], [(34.0, 21.6), (20.0, 21.6)])


def wandering(low: float, high: float) -> Polylines:
    """A line that wanders between two heights."""
    x = np.arange(10, 60, 0.5)
    y = (low + high) / 2 + (high - low) / 2 * np.sin(x / 6)
    return Polylines(
        places=np.stack((x, y), axis=1), first=np.array([0, len(x)]), closed=np.zeros(1, np.bool_)
    )


def test_a_line_lies_on_the_edge_that_has_most_of_it() -> None:
    lines = wandering(19.6, 21.0)
    near = np.full(len(lines.places), 1.0)
    segments = segments_of(EDGES)
    on = followed(lines, near, segments, np.ones(len(near), np.bool_))
    found = following(lines, segments, on)
    assert (found.end - found.begin).sum() > 0.9 * len(near)
    assert np.abs(found.middle[:, 1] - 20).max() < 0.1
    assert np.abs(found.way[:, 1]).max() == pytest.approx(0, abs=0.01)


def test_what_is_far_away_across_or_not_free_follows_nothing() -> None:
    segments = segments_of(EDGES)
    lines = wandering(19.6, 21.0)
    near = np.full(len(lines.places), 1.0)
    free = np.ones(len(near), np.bool_)
    assert not (followed(lines, near, segments, ~free) >= 0).any()
    far = wandering(25.0, 27.0)
    assert not (followed(far, near, segments, free) >= 0).any()
    y = np.arange(10, 60, 0.5)
    across = Polylines(
        places=np.stack((np.full(len(y), 40.0), y), axis=1),
        first=np.array([0, len(y)]),
        closed=np.zeros(1, np.bool_),
    )
    assert not (followed(across, near, segments, free) >= 0).any()


def test_segments_have_the_lighter_side_to_one_side_and_end_at_corners() -> None:
    segments = segments_of(edges_along([(10.0, 10.0), (50.0, 10.0), (50.0, 40.0)]))
    assert len(segments) == 2
    assert sorted(segments.lengths_mm) == pytest.approx([30, 40], abs=1.0)
    # What is dark lies to the side of positive cross products, so segments run the other way.
    level = segments.ways[np.argmax(segments.lengths_mm)]
    assert level == pytest.approx((-1, 0), abs=0.01)
    faint = segments_of(edges_along([(10.0, 10.0), (50.0, 10.0)], levels=20.0))
    assert not len(faint)


def test_edges_are_looked_at_where_lines_are() -> None:
    near = EDGES.beside(np.array([(10.0, 20.0), (12.0, 20.0)]))
    assert 0 < len(near.points) < len(EDGES.points) / 2
    assert not len(EDGES.beside(np.array([(150.0, 150.0)])).points)


def test_lines_follow_edges_where_the_whole_picture_is_built() -> None:
    """A chimney's side that trembles lies on its edge; where something has grown it does not."""
    x = np.arange(10, 60, 0.5)
    tremble = np.stack((x, 20.6 + 0.9 * np.sin(x / 1.3)), axis=1)
    rows = [np.stack((np.arange(0, 300, 0.5), np.full(600, y)), axis=1) for y in range(60, 180, 10)]
    posts = [each[:, ::-1] + (0, 200) for each in rows]
    parts = [tremble, *rows, *posts]
    lines = Polylines(
        places=np.concatenate(parts),
        first=np.cumsum([0, *map(len, parts)]),
        closed=np.zeros(len(parts), np.bool_),
    )
    near = np.full(len(lines.places), 1.0)
    on = ruled(lines, near, None, EDGES).lines.places[: len(x)]
    assert np.abs(on[10:-10, 1] - 20).max() < 0.1
    grown = np.arange(len(parts)) == 0
    stays = ruled(lines, near, grown, EDGES).lines.places[: len(x)]
    assert np.array_equal(stays, tremble)
