"""Where the main thing of a picture lies, in pictures made for it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

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
from worker.picture.outline.judging import judged
from worker.picture.outline.pipeline import find_points, strokes_of
from worker.picture.outline.points.sampled_picture import SampledPicture
from worker.spec.reading import Face, Reading
from worker.spec.spec import Area, Outline
from worker.spec.strokes import FORM, INNER, PLAIN

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


def test_what_is_behind_a_figure_must_be_longer() -> None:
    head = Area(left=0.4, top=0.1, width=0.2, height=0.3)
    box = Area(left=0.45, top=0.4, width=0.02, height=0.02)
    read = reading(NOTHING, faces=(Face(box=box, head=head, eyes=()),))
    found = detected(as_bytes(stripes()), read)
    lines = judged(found, found.chains, 0.5)
    at = found.points.x[lines.chains.order[lines.chains.first[:-1]]] * 0.25
    assert lines.scale[np.abs(at - 75) < 5].max() < 1.5
    assert lines.scale[at < 20].min() > 2.5


@pytest.mark.parametrize(
    ("subject_from", "expected"),
    [
        (None, [INNER, FORM, PLAIN, FORM, INNER]),
        (7, [FORM, FORM, PLAIN, FORM, INNER]),
        (30, [INNER, INNER, INNER, INNER, FORM]),
    ],
)
def test_what_is_behind_a_figure_is_light_and_its_outline_heavy(
    subject_from: int | None, expected: list[int]
) -> None:
    """Upright contours, behind it, along it and in it; the reading takes none for an outer one.

    What bounds the picture's subject is heavy all the same, and what is behind that is light.
    """
    (x, _), (across, _) = places_of_map(), places_of_grid()
    lines = (30.0, 62.0, 75.0, 88.0, 120.0)
    aside = np.min([np.abs(x - each) for each in lines], axis=0)
    grey = as_bytes(np.where(np.searchsorted(lines, across) % 2, 130.0, 100.0))
    head = Area(left=0.42, top=0.1, width=0.16, height=0.8)
    box = Area(left=0.45, top=0.4, width=0.02, height=0.02)
    read = reading(band(aside / 0.75), faces=(Face(box=box, head=head, eyes=()),))
    if subject_from is not None:
        read = replace(read, subject=subject(subject_from))
    strokes = strokes_of(detected(grey, read), Outline())
    start = np.array([strokes.curves_mm[first, 0] for first in strokes.first[:-1]])
    long = strokes.length_mm > 80
    order = np.argsort(start[long, 0])
    assert strokes.weight[long][order].tolist() == expected
    # Above the head they go on behind it.
    assert set(strokes.weight[~long].tolist()) == {INNER}


def test_what_is_out_of_focus_is_a_step_lighter() -> None:
    sharp, (across, _), (x, _) = stripes(), places_of_grid(), places_of_map()
    grey = as_bytes(np.where(across < 75, gaussian_filter(sharp, 10.0), sharp))
    aside = np.abs((x + STRIPE_MM / 2) % STRIPE_MM - STRIPE_MM / 2)
    strokes = strokes_of(detected(grey, reading(band(aside / 0.75))), Outline())
    at = np.array([strokes.curves_mm[first, 0, 0] for first in strokes.first[:-1]])
    assert set(strokes.weight[at < 50].tolist()) == {INNER}
    assert set(strokes.weight[at > 100].tolist()) == {PLAIN}


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


def subject(left: int) -> Bytes:
    """A coarse map that tells the picture's right part, from a column of 38 on, from the rest."""
    return np.where(np.arange(38) < left, 10, 245).astype(np.uint8)[None].repeat(28, axis=0)


def test_what_is_behind_the_subject_counts_less_and_what_bounds_it_more() -> None:
    found = detected(as_bytes(stripes()), replace(reading(NOTHING), subject=subject(19)))
    plain = detected(as_bytes(stripes()), reading(NOTHING))
    behind, bound, of_it = (main_around(found, x) / main_around(plain, x) for x in (30, 75, 120))
    assert behind < 0.8
    assert bound > 1.1
    assert of_it == pytest.approx(1, abs=0.03)


def test_where_no_subject_is_told_nothing_changes() -> None:
    plain = detected(as_bytes(stripes()), reading(NOTHING))
    for level in (0, 128, 255):
        read = replace(reading(NOTHING), subject=np.full((28, 38), level, np.uint8))
        told = detected(as_bytes(stripes()), read)
        assert np.allclose(told.prominence.main, plain.prominence.main, atol=0.01)
        assert not told.prominence.bounds.any()
