"""What is in focus, in pictures that are blurred by so much."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.lines import Bytes, Floats
from worker.picture.outline.points.edge_points import HALO_PX, Points, gradients_of, points_of
from worker.picture.outline.points.point_measures import cell_means
from worker.picture.outline.points.sampled_picture import SampledPicture
from worker.picture.outline.prominence.focus import in_focus

ROWS, COLUMNS = 320, 480


def focus_at(grey: Bytes, noise: float = 0.0) -> tuple[Points, Floats]:
    """Points of a picture, and how far each is in focus."""
    around = np.pad(grey, HALO_PX, mode="edge")
    gradients = gradients_of(around, -HALO_PX, -HALO_PX, grey.shape)
    points = points_of(gradients, 4.0)
    lost = HALO_PX - 6
    slopes = cell_means(gradients.steep[lost:-lost, lost:-lost])
    picture = SampledPicture(grey=grey, across_mm=0.25, down_mm=0.25)
    return points, in_focus(picture, slopes, noise, points)


def edges(blur_px: float) -> Floats:
    """Two upright steps, the left one sharp and the right one blurred."""
    x = np.arange(COLUMNS, dtype=np.float64)
    soft = gaussian_filter(np.where(x < 360, 60.0, 180.0), blur_px) if blur_px else 60.0
    row = np.where(x < 240, np.where(x < 120, 180.0, 60.0), soft)
    return np.tile(row, (ROWS, 1))


def left_and_right(grey: Floats, noise: float = 0.0) -> tuple[float, float]:
    points, focus = focus_at(np.rint(grey).astype(np.uint8), noise)
    inside = (points.y > 60) & (points.y < 260)
    sides = (np.abs(points.x - middle) < 8 for middle in (120, 360))
    one, two = (float(focus[inside & side].mean()) for side in sides)
    return one, two


@pytest.mark.parametrize("blur_px", [3.0, 6.0, 12.0])
def test_a_blurred_step_is_as_much_out_of_focus_as_its_slopes_say(blur_px: float) -> None:
    """Squares of a Gaussian's slopes add up to height squared over twice its width and root pi."""
    fine, coarse = 2.0, 8.0
    ratio = np.sqrt((coarse**2 + blur_px**2) / (fine**2 + blur_px**2))
    expected = (fine / coarse * np.sqrt(ratio) - 0.25) / 0.25
    sharp, soft = left_and_right(edges(blur_px))
    assert sharp > 0.95
    assert soft / sharp == pytest.approx(expected, abs=0.13)


def test_contrast_says_nothing_of_focus() -> None:
    plain, faint = (left_and_right(128 + (edges(6.0) - 120) * share) for share in (1.0, 0.3))
    assert plain == pytest.approx(faint, abs=0.05)


def test_texture_beside_an_edge_is_in_focus_though_the_edge_is_frayed() -> None:
    """As fur before blurred leaves."""
    noise = np.random.default_rng(5).normal(0, 1, (ROWS, COLUMNS))
    fur = gaussian_filter(noise, 1.5)
    fur *= 25 / fur.std()
    x = np.arange(COLUMNS)
    grey = edges(6.0) + np.where((x > 300) & (x < 360), fur, 0)
    assert left_and_right(np.clip(grey, 0, 255))[1] > 0.9


def test_noise_is_not_taken_for_focus() -> None:
    grain = np.random.default_rng(6).normal(0, 6, (ROWS, COLUMNS))
    # Smoothed with a sigma of two, slopes of white noise spread by 1 / (4 root pi sigma squared).
    contrast = 6 / (np.sqrt(8 * np.pi) * 2.0**2) / 0.1797
    clean, noisy = left_and_right(edges(10.0)), left_and_right(edges(10.0) + grain, contrast)
    assert noisy[1] < clean[1] + 0.1
    assert noisy[0] > 0.85


def test_where_nothing_is_seen_nothing_is_out_of_focus() -> None:
    points, _ = focus_at(np.rint(edges(0.0)).astype(np.uint8))
    picture = SampledPicture(
        grey=np.full((ROWS, COLUMNS), 128, np.uint8), across_mm=0.25, down_mm=0.25
    )
    slopes = np.zeros((ROWS // 4, COLUMNS // 4), np.float32)
    assert (in_focus(picture, slopes, 0.0, points) == 1).all()
