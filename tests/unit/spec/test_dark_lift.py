"""Lifting darks: more contrast where a contour would drown, nothing beside it and in the light."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.spec.dark_lift import LIFT_PX, lift_curve, lift_map

Bytes = npt.NDArray[np.uint8]


def scene(*, right: int) -> tuple[Bytes, Bytes]:
    """Black left of a contour and `right` beyond it; and the contour."""
    grey = np.full((512, 768), right, np.uint8)
    grey[:, :384] = 8
    contour = np.zeros(grey.shape, np.uint8)
    contour[:, 382:386] = 255
    return contour, grey


def test_the_curve_rises_and_leaves_the_light_alone() -> None:
    curve = lift_curve().astype(int)
    assert np.all(np.diff(curve) >= 0)
    assert curve[0] == 0
    assert np.array_equal(curve[144:], np.arange(144, 256))
    # Steps in the dark are larger than they were, by up to twice and more.
    assert curve[30] - curve[10] > 1.5 * 20
    assert curve[60] - curve[40] >= 20


def test_the_map_is_full_at_a_contour_that_drowns_and_smooth() -> None:
    share = lift_map(*scene(right=30)).astype(int)
    assert share.shape == (171, LIFT_PX)
    assert share[80, 126:130].min() > 240
    assert share[:, 0].max() == share[:, -1].max() == 0
    # From nothing to full over centimetres: never more than a twelfth from pixel to pixel.
    assert np.abs(np.diff(share, axis=1)).max() < 255 / 12


def test_a_contour_that_stands_out_lifts_nothing() -> None:
    assert lift_map(*scene(right=200)).max() == 0
    contour, grey = scene(right=30)
    assert lift_map(np.zeros_like(contour), grey).max() == 0
    assert lift_map(np.zeros((1, 1), np.uint8), grey).max() == 0
