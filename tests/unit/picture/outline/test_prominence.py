"""Where the main thing of a picture lies, in pictures made for it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.contours.test_contour_lines import (
    NOTHING,
    Bytes,
    Floats,
    band,
    placed,
    places_of_grid,
    places_of_map,
    reading,
)
from worker.picture.outline.detected_points import Artefacts, DetectedPoints
from worker.picture.outline.pipeline import find_points
from worker.picture.outline.points.sampled_picture import SampledPicture
from worker.spec.reading import Face, Reading
from worker.spec.spec import Area, Outline

STRIPE_MM = 15.0


def detected(grey: Bytes, read: Reading) -> DetectedPoints:
    picture = SampledPicture(grey=grey, across_mm=0.25, down_mm=0.25)
    with ThreadPoolExecutor(2) as pool:
        quiet = Artefacts(noise=0.0, step=0.0)
        return find_points(picture, Outline(), quiet, pool, placed=placed(read))


def stripes(levels: float = 60.0) -> Floats:
    """Upright edges every 15 mm."""
    across, _ = places_of_grid()
    return 128 + levels / 2 * np.sign(np.sin(across * np.pi / STRIPE_MM))


def as_bytes(grey: Floats) -> Bytes:
    return np.rint(grey).astype(np.uint8)


def main_around(found: DetectedPoints, x_mm: float, y_mm: float = 56.0) -> float:
    """How much points near a place count."""
    points = found.points
    near = np.hypot(points.x * 0.25 - x_mm, points.y * 0.25 - y_mm) < 12
    return float(found.prominence.main[near].mean())


def test_what_is_in_focus_counts_more_than_what_is_not() -> None:
    sharp = stripes()
    soft = gaussian_filter(sharp, 8.0)
    across, _ = places_of_grid()
    found = detected(as_bytes(np.where(across < 75, soft, sharp)), reading(NOTHING))
    assert main_around(found, 120) > 1.2 * main_around(found, 30)


def test_where_everything_is_in_focus_the_middle_counts_a_little_more() -> None:
    found = detected(as_bytes(stripes()), reading(NOTHING))
    middle, corner = main_around(found, 75), main_around(found, 10, 10)
    assert corner < middle < 1.2 * corner


def test_heads_and_figures_count_more_than_what_is_behind() -> None:
    head = Area(left=0.4, top=0.1, width=0.2, height=0.3)
    read = reading(NOTHING, faces=(Face(box=head, head=head, eyes=()),))
    found = detected(as_bytes(stripes()), read)
    in_head, below, behind = (main_around(found, *at) for at in ((75, 28), (75, 90), (15, 28)))
    assert in_head > 1.1 * below > 1.2 * behind


@pytest.mark.parametrize(("levels", "usual"), [(10.0, 10 / 45), (80.0, 1.0)])
def test_usual_contrast_follows_that_of_contours(levels: float, usual: float) -> None:
    """Nearly: where few contours are seen, it is drawn to what is usual anywhere."""
    x, _ = places_of_map()
    aside = np.abs((x + STRIPE_MM / 2) % STRIPE_MM - STRIPE_MM / 2)
    found = detected(as_bytes(stripes(levels)), reading(band(aside / 0.75)))
    assert np.median(found.prominence.usual) == pytest.approx(usual, rel=0.25)


def test_where_no_contour_is_seen_contrast_is_as_usual() -> None:
    found = detected(as_bytes(stripes(10.0)), reading(NOTHING))
    assert np.allclose(found.prominence.usual, 1.0)
