"""Lines beside a bound, against the nearest places as SciPy finds them."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from scipy.spatial import cKDTree

from tests.unit.picture.outline.given_lines import points_along
from worker.picture.outline.feature_lines.beside_bounds import beside
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points

#: Half a ring around (0, 0), gone along from the right by the top of a picture.
_TURNS = np.linspace(0, np.pi, 160)
BOUND = 400 * np.stack((np.cos(_TURNS), -np.sin(_TURNS)), axis=1)
NEAR = 60.0


def scattered(count: int) -> tuple[Points, Chains]:
    """One line whose points are anywhere near the ring, and go along it."""
    random = np.random.default_rng(7)
    turns, far = random.uniform(0.2, np.pi - 0.2, count), random.uniform(300, 500, count)
    out = np.stack((np.cos(turns), -np.sin(turns)), axis=1)
    return points_along(far[:, None] * out, out, [count])


def test_places_that_are_near_are_found_with_their_side() -> None:
    points, chains = scattered(9000)
    found = beside(BOUND, points, chains, NEAR)
    far, place = cKDTree(BOUND).query(np.stack((points.x, points.y), axis=1))
    assert found.at.tolist() == np.flatnonzero(far < NEAR).tolist()
    assert found.place.tolist() == place[found.at].tolist()
    # Outwards is to the right as one goes along it.
    outwards = np.hypot(points.x, points.y)[found.at] - 400
    assert found.out == pytest.approx(outwards, abs=0.2)
    assert found.along.min() > 0.99


def test_memory_grows_with_points_and_not_with_the_bound() -> None:
    points, chains = scattered(100_000)
    tracemalloc.start()
    beside(BOUND, points, chains, NEAR)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    # A matrix of all of both has 160 numbers of 8 bytes for each point.
    assert most < 40 * 8 * len(points.x)
