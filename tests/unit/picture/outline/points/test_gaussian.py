"""Smoothing, against SciPy's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, uniform_filter

from tests.pictures.photographs import photographs
from worker.picture.outline.points.edge_points import BEND_OF_LINE, SLOPE_OF_STEP
from worker.picture.outline.points.gaussian import REACH_PX, box_mean, gaussian_smoothed


def test_smoothing_is_scipys_gaussian_of_two_pixels() -> None:
    photo = photographs()["camera"]
    expected = gaussian_filter(photo.astype(np.float64), 2.0)[
        REACH_PX:-REACH_PX, REACH_PX:-REACH_PX
    ]
    assert np.abs(gaussian_smoothed(photo) - expected).max() < 6.0
    assert np.abs(gaussian_smoothed(photo) - expected).mean() < 0.25


def test_means_over_squares_are_scipys() -> None:
    values = np.random.default_rng(1).normal(0, 1, (40, 30)).astype(np.float32)
    for part, radius in ((values, 3), (values[:1], 3), (values[:, :2], 1)):
        expected = uniform_filter(part, 2 * radius + 1, mode="nearest")
        assert np.allclose(box_mean(part, radius), expected, atol=1e-5)


def test_contrast_is_measured_in_levels_of_a_step_and_of_a_line() -> None:
    step = np.zeros((40, 40), np.uint8)
    step[:, 20:] = 200
    line = np.zeros((40, 40), np.uint8)
    line[:, 20:22] = 200
    across = gaussian_smoothed(step)[10]
    assert np.abs(across[2:] - across[:-2]).max() / 2 == pytest.approx(
        200 * SLOPE_OF_STEP, rel=1e-3
    )
    across = gaussian_smoothed(line)[10]
    assert np.abs(across[2:] + across[:-2] - 2 * across[1:-1]).max() == pytest.approx(
        200 * BEND_OF_LINE, rel=1e-3
    )
