"""Ellipses are found as another library finds them, and out of an arc with noise."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.measure import EllipseModel

from worker.picture.outline.rims.ellipses import Ellipses, ellipse_through, ellipses_through

MIDDLE, AXES, TURN = np.array((120.0, 90.0)), (60.0, 40.0), 0.4


def arc(start: float, stop: float, many: int = 80, shaken_mm: float = 0.0) -> np.ndarray:
    t = np.linspace(start, stop, many)
    x, y = AXES[0] * np.cos(t), AXES[1] * np.sin(t)
    turned = np.stack((x * np.cos(TURN) - y * np.sin(TURN), x * np.sin(TURN) + y * np.cos(TURN)), 1)
    return MIDDLE + turned + np.random.default_rng(3).normal(0, shaken_mm, turned.shape)


def fitted(places: np.ndarray) -> Ellipses:
    ellipse = ellipse_through(places)
    assert ellipse.there
    return ellipse


@pytest.mark.parametrize("stop", [2 * np.pi, 4.0, 2.5])
def test_an_exact_arc_gives_its_ellipse(stop: float) -> None:
    ellipse = fitted(arc(0.3, stop))
    assert ellipse.middle == pytest.approx(MIDDLE, abs=1e-4)
    assert ellipse.axes_mm == pytest.approx(AXES, abs=1e-4)
    assert np.abs(ellipse.off_mm(arc(0, 6))[0]).max() < 1e-4


def test_noise_gives_what_another_library_gives() -> None:
    """scikit-image's `EllipseModel` is an implementation of Halíř and Flusser's fit of its own."""
    places = arc(0.5, 4.5, shaken_mm=0.5)
    model = EllipseModel.from_estimate(places)
    assert model
    (x, y), (one, two) = model.center, model.axis_lengths
    ellipse = fitted(places)
    assert ellipse.middle == pytest.approx((x, y), abs=1e-3)
    assert ellipse.axes_mm == pytest.approx(sorted((one, two), reverse=True), abs=1e-3)


def test_places_beside_it_go_to_the_nearest_on_it() -> None:
    ellipse = fitted(arc(0, 6.2))
    outside = ellipse.middle + 1.02 * (arc(0, 6, 30) - ellipse.middle)
    near = ellipse.nearest(outside)
    dense = arc(0, 2 * np.pi, 20_000)
    least = np.hypot(*(outside[:, None] - dense[None]).transpose(2, 0, 1)).min(axis=1)
    assert np.hypot(*(near - outside).T) == pytest.approx(least, abs=0.02)
    assert (ellipse.off_mm(outside)[0] > 0).all()


def test_angles_go_round_evenly() -> None:
    ellipse, t = fitted(arc(0, 6.2)), np.linspace(0, 2 * np.pi, 9)[:-1]
    turns = np.diff(np.unwrap(ellipse.angles(arc(0, 2 * np.pi, 9)[:-1])))
    assert np.abs(turns) == pytest.approx(np.full(len(t) - 1, np.pi / 4), abs=1e-6)


def test_a_straight_line_and_one_place_have_none() -> None:
    straight = np.stack((np.linspace(0, 50, 30), np.linspace(0, 50, 30)), axis=1)
    found = ellipse_through(straight)
    assert not found.there or found.axes_mm[1] < 1e-2 * found.axes_mm[0]
    assert not ellipse_through(np.zeros((30, 2))).there


def test_many_at_once_are_as_one_by_one() -> None:
    arcs = np.stack([arc(0.1 * at, 3.0 + 0.2 * at, shaken_mm=0.2) for at in range(5)])
    weight = np.random.default_rng(1).uniform(0.5, 1, arcs.shape[:2])
    many = ellipses_through(arcs, weight)
    for at in range(5):
        one = ellipses_through(arcs[at : at + 1], weight[at : at + 1]).taken(0)
        assert many.taken(at).middle == pytest.approx(one.middle, abs=1e-9)
        assert many.off_mm(arcs)[0][at] == pytest.approx(one.off_mm(arcs[at])[0], abs=1e-9)
