"""Pieces of one straight edge are one segment."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.given_edges import edges_along
from worker.picture.outline.polylines import Floats, Ints
from worker.picture.outline.ruling.collinear import joined_pieces
from worker.picture.outline.ruling.segments import segments_of

#: The edge of a wall behind a creeper, seen in four pieces.
PIECES = [(10.0, 20.0), (18.0, 24.0), (31.0, 35.0), (39.0, 50.0)]


def joined(*pieces: tuple[float, float, float, float], kind: int = 0) -> tuple[Floats, list[Ints]]:
    """From ends of pieces those of what is left, and its pieces."""
    ends = np.array(pieces)
    start, stop, of = joined_pieces(ends[:, :2], ends[:, 2:], np.full(len(ends), kind))
    return np.concatenate((start, stop), axis=1), of


def test_pieces_of_one_edge_are_one_segment_from_end_to_end() -> None:
    segments = segments_of(edges_along(*[[(x, 30.0), (to, 30.0)] for x, to in PIECES]))
    assert len(segments) == 1
    assert segments.lengths_mm[0] == pytest.approx(40, abs=1)
    assert np.abs(segments.start[:, 1] - 30).max() < 0.1


def test_the_line_through_both_pieces_is_that_which_fits_both() -> None:
    """Twice as long a piece has twice the weight, as in total least squares of its points."""
    ends, pieces = joined((0, 0, 20, 0), (24, 0.3, 34, 0.3))
    assert [each.tolist() for each in pieces] == [[0, 1]]
    x = np.concatenate((np.linspace(0, 20, 2001), np.linspace(24, 34, 1001)))
    y = np.where(x < 22, 0, 0.3)
    slope, height = np.polyfit(x, y, 1)
    assert ends[0, [1, 3]] == pytest.approx(height + slope * ends[0, [0, 2]], abs=0.01)


@pytest.mark.parametrize(
    "other",
    [
        (32.0, 0.0, 42.0, 0.0),  # Beyond a gap that is too long.
        (14.0, 1.6, 24.0, 1.6),  # Beside it.
        (34.0, 0.0, 24.0, 0.0),  # The other side is lighter.
        (12.0, 0.0, 20.0, 3.0),  # Another direction.
    ],
)
def test_what_is_not_on_one_line_stays_apart(other: tuple[float, float, float, float]) -> None:
    ends, pieces = joined((0, 0, 10, 0), other)
    assert len(pieces) == 2
    assert np.array_equal(ends[0], (0, 0, 10, 0))


def test_thin_lines_and_edges_stay_apart() -> None:
    ends = np.array([(0.0, 0.0, 10.0, 0.0), (12.0, 0.0, 22.0, 0.0)])
    assert len(joined_pieces(ends[:, :2], ends[:, 2:], np.array([0, 1]))[2]) == 2
    assert len(joined_pieces(ends[:0, :2], ends[:0, 2:], np.zeros(0, np.int64))[2]) == 0
