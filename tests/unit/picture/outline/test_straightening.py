"""What is straight within its noise, and what is not."""

from __future__ import annotations

import math

import numpy as np

from worker.picture.outline.polylines import Polylines
from worker.picture.outline.straightening import straightened


def one_line(places: np.ndarray, *, closed: bool = False) -> Polylines:
    return Polylines(places=places, first=np.array([0, len(places)]), closed=np.array([closed]))


def off_chord(places: np.ndarray) -> float:
    """The furthest place from the line between both ends."""
    way = (places[-1] - places[0]) / np.hypot(*(places[-1] - places[0]))
    rest = places - places[0]
    return float(np.abs(rest[:, 0] * way[1] - rest[:, 1] * way[0]).max())


def test_a_line_that_is_straight_within_its_noise_becomes_straight() -> None:
    along = np.arange(0, 60, 0.25)
    places = np.stack((along, 0.3 * along), axis=1)
    places += np.random.default_rng(1).normal(0, 0.03, places.shape)
    assert off_chord(places) > 0.05
    assert off_chord(straightened(one_line(places), 0.3).places) < 1e-9


def test_corners_of_a_frame_stay_corners() -> None:
    side = np.arange(0, 30, 0.25)
    corner = [(0, 0), (30, 0), (30, 30), (0, 30)]
    ways = [(1, 0), (0, 1), (-1, 0), (0, -1)]
    places = np.concatenate(
        [np.array(at) + side[:, None] * way for at, way in zip(corner, ways, strict=True)]
    )
    places = np.concatenate((places, places[:1]))
    shaken = places + np.random.default_rng(2).normal(0, 0.04, places.shape)
    shaken[-1] = shaken[0]
    found = straightened(one_line(shaken, closed=True), 0.3).places
    assert np.array_equal(found[0], found[-1])
    for at in corner:
        assert np.hypot(*(found - at).T).min() < 0.15
    assert np.abs(found - places).max() < 0.2


def test_a_circle_and_a_gentle_curve_stay_as_they_are() -> None:
    angle = np.linspace(0, math.tau, 400)
    circle = 20 * np.stack((np.cos(angle), np.sin(angle)), axis=1)
    circle[-1] = circle[0]
    ring = one_line(circle, closed=True)
    assert np.array_equal(straightened(ring, 0.3).places, ring.places)
    along = np.arange(0, 60, 0.25)
    bow = one_line(np.stack((along, 2.0 * np.sin(along * math.pi / 60)), axis=1))
    assert np.array_equal(straightened(bow, 0.3).places, bow.places)


def test_no_line_at_all_is_no_trouble() -> None:
    none = Polylines(places=np.zeros((0, 2)), first=np.zeros(1, np.int64), closed=np.zeros(0, bool))
    assert len(straightened(none, 0.3).closed) == 0
