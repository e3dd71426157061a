"""Proportions estimated from one view, of sheets whose proportions are known.

Sheets are those of ISO 216, 1 : √2 to the half millimetre; cameras are tests/pictures/cameras.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.folded import fold
from tests.pictures.cameras import View
from worker.errors import CornersUnusable
from worker.reference.square_up.corners import Quad, quad_of
from worker.reference.square_up.proportion import (
    settled_proportion,
    squared_size_px,
    true_proportion,
)

#: ISO 216: A5, A4, A3, A2, and A4 on its side.
SHEETS_MM = ((148.0, 210.0), (210.0, 297.0), (297.0, 420.0), (420.0, 594.0), (297.0, 210.0))
#: From straight ahead to steep, from a corner.
TILTS_DEG = ((0, 0), (2, 1), (8, 8), (15, 10), (20, 20), (-25, 12), (30, -15), (40, 30), (12, 45))
#: Photo angles of lenses from wide to long, as for 36 × 24 mm.
FOCALS_MM = (16.0, 24.0, 26.0, 35.0, 50.0, 85.0)


def quad_of_view(view: View) -> Quad:
    return quad_of(view.corners().tolist(), view.photo_px)


def off_percent(view: View) -> float:
    """How far off the estimate is."""
    wanted = view.sheet_mm[0] / view.sheet_mm[1]
    return 100 * abs(true_proportion(quad_of_view(view)) / wanted - 1)


@fold(("sheet_mm", SHEETS_MM), ("tilt_deg", TILTS_DEG), ("focal_mm", FOCALS_MM))
def test_usual_views_are_good_to_one_percent(
    sheet_mm: tuple[float, float], tilt_deg: tuple[float, float], focal_mm: float
) -> None:
    view = View(sheet_mm=sheet_mm, tilt_deg=tilt_deg, focal_mm=focal_mm, roll_deg=3)
    assert off_percent(view) < 1.0


@fold(("sheet_mm", SHEETS_MM), ("tilt_deg", [5, 15, 25, 35, 45]))
def test_seen_from_the_front_a_phones_lens_is_assumed(
    sheet_mm: tuple[float, float], tilt_deg: float
) -> None:
    """Exactly from the front no focal length can be found (Zhang and He, section 5)."""
    for tilt in ((tilt_deg, 0.0), (0.0, tilt_deg)):
        assert off_percent(View(sheet_mm=sheet_mm, tilt_deg=tilt)) < 0.2


@pytest.mark.parametrize(("tilt_deg", "most_percent"), [(15, 0.8), (30, 3.0), (45, 6.0)])
@pytest.mark.parametrize("focal_mm", [26 / 1.1, 26 * 1.1])
def test_another_lens_from_the_front_puts_it_off_by_what_is_said(
    tilt_deg: float, most_percent: float, focal_mm: float
) -> None:
    found = off_percent(View(tilt_deg=(tilt_deg, 0.0), focal_mm=focal_mm))
    # The relative error is that of the focal length times the squared sine of the tilt.
    assert found == pytest.approx(10 * math.sin(math.radians(tilt_deg)) ** 2, rel=0.25)
    assert found < most_percent


@pytest.mark.parametrize("tilt_deg", [(30.0, 0.0), (25.0, 15.0), (40.0, 5.0)])
def test_it_beats_the_mean_of_the_sides(tilt_deg: tuple[float, float]) -> None:
    view = View(tilt_deg=tilt_deg, focal_mm=24)
    top, right, bottom, left = quad_of_view(view).sides_px
    mean = (top + bottom) / (right + left) / (view.sheet_mm[0] / view.sheet_mm[1])
    assert off_percent(view) < 100 * abs(mean - 1) / 4


def test_corners_placed_by_hand_are_good_enough() -> None:
    """A finger misses by a pixel of a preview of 1600, 2.5 px here, as standard deviation."""
    rng, found = np.random.default_rng(5), []
    for _ in range(300):
        tilt = (float(rng.uniform(-35, 35)), float(rng.uniform(-35, 35)))
        view = View(tilt_deg=tilt, roll_deg=float(rng.uniform(-5, 5)))
        corners = view.corners() + rng.normal(0, 2.5, (4, 2)) / view.photo_px
        estimate = true_proportion(quad_of(corners.tolist(), view.photo_px))
        found.append(abs(estimate / (210 / 297) - 1))
    assert np.median(found) < 0.005
    assert np.quantile(found, 0.95) < 0.02


def test_a_parallelogram_has_the_proportion_of_its_sides() -> None:
    quad = quad_of([(0.1, 0.2), (0.7, 0.2), (0.7, 0.6), (0.1, 0.6)], (4000, 4000))
    assert true_proportion(quad) == pytest.approx(1.5, rel=1e-9)


def test_what_is_given_is_taken() -> None:
    quad = quad_of_view(View())
    assert settled_proportion(quad, 1.25) == 1.25
    assert settled_proportion(quad, None) == true_proportion(quad)
    for wrong in (0.0, -1.0, 0.049, 20.1, math.inf, math.nan):
        with pytest.raises(CornersUnusable) as caught:
            settled_proportion(quad, wrong)
        assert caught.value.field == "proportion"


def test_a_strip_seen_from_its_end_is_none() -> None:
    view = View(sheet_mm=(2000, 60), tilt_deg=(0, 0), photo_px=(9000, 3000))
    with pytest.raises(CornersUnusable, match="proportion"):
        true_proportion(quad_of_view(view))


@fold(("proportion", [0.05, 0.5, 210 / 297, 1.0, math.sqrt(2), 20.0]), ("tilt_deg", TILTS_DEG))
def test_no_side_loses_pixels(proportion: float, tilt_deg: tuple[float, float]) -> None:
    quad = quad_of_view(View(tilt_deg=tilt_deg))
    width_px, height_px = squared_size_px(quad, proportion, 10**12)
    top, right, bottom, left = quad.sides_px
    assert width_px >= round(max(top, bottom))
    assert height_px >= round(max(right, left))
    # And no more than that: one of the sides is just as long.
    assert width_px < max(top, bottom) + 1 or height_px < max(right, left) + 1
    assert abs(width_px - proportion * height_px) <= 0.5 * (1 + proportion) + 1e-6


@pytest.mark.parametrize("max_pixels", [10_000, 1_234_567, 60_000_000])
@pytest.mark.parametrize("proportion", [0.05, 210 / 297, 1.0, 20.0])
def test_the_budget_holds(max_pixels: int, proportion: float) -> None:
    quad = quad_of_view(View(photo_px=(24000, 18000)))
    width_px, height_px = squared_size_px(quad, proportion, max_pixels)
    assert 0.9 * max_pixels < width_px * height_px <= max_pixels


@pytest.mark.parametrize("share", [0.25, 4.0])
def test_a_proportion_far_from_what_the_corners_show_is_a_slip(share: float) -> None:
    """It is usually height ÷ width of something long; pixels would be made up for it."""
    quad = quad_of_view(View(sheet_mm=(210.0, 297.0), tilt_deg=(15, 10)))
    shown = true_proportion(quad)
    assert settled_proportion(quad, shown * share * (1.05 if share < 1 else 0.95)) > 0
    with pytest.raises(CornersUnusable, match="height ÷ width") as caught:
        settled_proportion(quad, shown * share * (0.95 if share < 1 else 1.05))
    assert caught.value.field == "proportion"
