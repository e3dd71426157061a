"""Ends of lines lie on the lines that they meet, whatever moved either."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.given_lines import along
from worker.picture.outline.closing.landing import landed, landings
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.polylines import Floats, Polylines


def polylines(*ways: Floats) -> Polylines:
    return Polylines(
        places=np.concatenate(ways),
        first=np.concatenate(([0], np.cumsum([len(way) for way in ways]))),
        closed=np.zeros(len(ways), bool),
    )


def test_ends_that_are_points_of_other_lines_are_found() -> None:
    chains = Chains(
        order=np.array((0, 1, 2, 3, 9, 8, 2, 5, 6, 7)),
        first=np.array((0, 4, 7, 10)),
        closed=np.zeros(3, bool),
    )
    assert landings(chains) == [(1, 1, 0)]


@pytest.mark.parametrize("off", [-0.8, -0.1, 0.3, 1.5])
def test_an_end_goes_straight_on_or_back(off: float) -> None:
    across, down = along((0.0, 0.0), (40.0, 0.0)), along((20.0, 30.0), (20.0, off))
    met = landed(polylines(across, down), [(1, 1, 0)])
    assert np.allclose(met.places[-1], (20.0, 0.0), atol=1e-9)
    assert np.allclose(met.places[: len(across)], across)
    assert np.allclose(met.places[len(across) :, 0], 20.0), "it stays straight"
    assert np.allclose(met.places[len(across)], down[0])


def test_a_start_goes_aside_where_nothing_is_ahead() -> None:
    across, beside = along((0.0, 0.0), (40.0, 0.0)), along((42.0, 1.0), (42.0, 30.0))
    met = landed(polylines(across, beside), [(1, 0, 0)])
    assert np.allclose(met.places[len(across)], (40.0, 0.0), atol=1e-9)
    moved = np.hypot(*(met.places[len(across) :] - beside).T)
    assert (np.diff(moved) <= 1e-9).all(), "less and less of the line moves"
    assert moved[-1] < 1e-9
