"""Curves through points, against the forms that they came from."""

from __future__ import annotations

import math

import numpy as np
import pytest

from worker.picture.outline import curve_fitting
from worker.picture.outline.curve_fitting import TOLERANCE, fit_curves
from worker.picture.outline.points.sampled_picture import LINE_SIGMA_MM
from worker.picture.outline.polylines import Polylines, corners


def ring(radius_mm: float, count: int) -> Polylines:
    """A circle as points, its first again at the end."""
    angle = np.linspace(0, math.tau, count + 1)
    places = radius_mm * np.stack((np.cos(angle), np.sin(angle)), axis=1)
    return Polylines(places=places, first=np.array([0, count + 1]), closed=np.array([True]))


def shaken(lines: Polylines) -> Polylines:
    """A ring whose places are a little off."""
    off = np.random.default_rng(1).normal(0, 0.02, (len(lines.places) - 1, 2))
    places = lines.places + np.concatenate((off, off[:1]))
    return Polylines(places=places, first=lines.first, closed=lines.closed)


def test_a_circle_takes_few_curves_and_stays_round() -> None:
    curves = fit_curves(ring(20.0, 500))
    assert len(curves.points) <= 10
    t = np.linspace(0, 1, 50)[:, None, None]
    p = curves.points.transpose(1, 0, 2)[:, None]
    places = (
        (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t**2 * (1 - t) * p[2] + t**3 * p[3]
    )
    assert np.abs(np.hypot(places[..., 0], places[..., 1]) - 20.0).max() < 0.02
    # It closes without a corner.
    leave, arrive = (
        curves.points[0, 1] - curves.points[0, 0],
        curves.points[-1, 3] - curves.points[-1, 2],
    )
    cosine = leave @ arrive / np.linalg.norm(leave) / np.linalg.norm(arrive)
    assert cosine > 0.9999


def test_a_corner_stays_sharp() -> None:
    side = np.linspace(0, 20, 81)
    places = np.concatenate(
        (np.stack((side, 0 * side), axis=1), np.stack((0 * side[1:] + 20, side[1:]), axis=1))
    )
    lines = Polylines(places=places, first=np.array([0, len(places)]), closed=np.array([False]))
    assert np.flatnonzero(corners(lines)).tolist() == [80]
    ends = fit_curves(lines).points[:, 3]
    assert np.hypot(*(ends - (20.0, 0.0)).T).min() < 1e-9


@pytest.mark.parametrize("radius_mm", [1.0, 1.5, 2.0, 3.0])
def test_a_small_circle_has_no_corners(radius_mm: float) -> None:
    """Within a few steps it turns as far as a corner does."""
    lines = ring(radius_mm, round(math.tau * radius_mm / 0.25))
    assert not corners(shaken(lines)).any()


def test_a_wobble_has_no_corners() -> None:
    along = np.arange(0, 60, 0.25)
    places = np.stack((along, 0.35 * np.sin(along * math.tau / 4.0)), axis=1)
    lines = Polylines(places=places, first=np.array([0, len(places)]), closed=np.array([False]))
    assert not corners(lines).any()


def test_lines_are_fitted_alike_whatever_is_fitted_with_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rings = [shaken(ring(radius, 30 * radius)) for radius in (2, 9, 4, 6)]
    lines = Polylines(
        places=np.concatenate([each.places for each in rings]),
        first=np.cumsum([0, *(len(each.places) for each in rings)]),
        closed=np.ones(len(rings), bool),
    )
    together = fit_curves(lines)
    monkeypatch.setattr(curve_fitting, "TOGETHER", 150)
    apart = fit_curves(lines)
    assert np.array_equal(apart.owner, together.owner)
    assert np.allclose(apart.points, together.points, rtol=0, atol=1e-9)


def test_no_line_at_all_is_no_curve() -> None:
    none = Polylines(places=np.zeros((0, 2)), first=np.zeros(1, np.int64), closed=np.zeros(0, bool))
    assert fit_curves(none).points.shape == (0, 4, 2)
    assert TOLERANCE * LINE_SIGMA_MM == 0.15
