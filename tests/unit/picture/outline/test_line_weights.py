"""How heavy lines are drawn, in pictures and readings made for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.contours.test_contour_lines import (
    MAP_MM,
    NOTHING,
    band,
    drawn,
    places_of_grid,
    places_of_map,
    reading,
)
from tests.unit.picture.outline.prominence.test_prominence import as_bytes, detected, stripes
from worker.picture.outline.judging import judged, needed
from worker.picture.outline.line_weights import weights
from worker.picture.outline.points.sampled_picture import PixelGrid
from worker.spec.reading import Face
from worker.spec.spec import Area
from worker.spec.strokes import FORM, INNER, PLAIN

LINES_MM = (30.0, 60.0, 90.0, 120.0)


def weights_of(*levels: float, subject_mm: float | None = None) -> list[int]:
    """Weights from left to right of upright outer contours between forms that differ so much.

    What the picture is of begins at a place, if that is known.
    """
    (x, _), (across, _) = places_of_map(), places_of_grid()
    aside = np.min([np.abs(x - each) for each in LINES_MM], axis=0)
    outer = np.full(x.shape, 255, np.uint8)
    steps = np.cumsum((40.0, *levels))
    grey = np.rint(steps[np.searchsorted(LINES_MM, across)]).astype(np.uint8)
    read = reading(band(aside / MAP_MM), outer=outer)
    if subject_mm is not None:
        subject = np.where(x[::4, ::4] < subject_mm, 10, 245).astype(np.uint8)
        read = replace(read, subject=subject)
    strokes = drawn(grey, read)
    order = np.argsort([strokes.curves_mm[first, 0, 0] for first in strokes.first[:-1]])
    found: list[int] = strokes.weight[order].tolist()
    return found


def test_what_parts_forms_that_hardly_differ_is_lighter_than_an_outline() -> None:
    assert weights_of(70, 30, 15, 70) == [FORM, PLAIN, INNER, FORM]


def test_where_dark_is_on_dark_the_reading_says_how_heavy() -> None:
    assert weights_of(70, 0, 0, 70) == [FORM, FORM, FORM, FORM]


def test_what_bounds_the_subject_is_heavy_and_what_is_behind_it_lighter() -> None:
    assert weights_of(30, 30, 30, 30) == [PLAIN, PLAIN, PLAIN, PLAIN]
    assert weights_of(30, 30, 30, 30, subject_mm=60.0) == [INNER, FORM, PLAIN, PLAIN]


@pytest.mark.parametrize(
    ("subject", "expected"),
    [(128, [PLAIN, FORM, FORM]), (245, [PLAIN, PLAIN, FORM])],
    ids=["unknown", "of all of it"],
)
def test_what_is_small_within_the_subject_is_no_outline(subject: int, expected: list[int]) -> None:
    """Discs 13, 22 and 96 mm wide on 60 cm, which the reading takes for outer contours."""
    discs = ((25.0, 1.6), (60.0, 2.8), (110.0, 12.0))
    x, y = places_of_map()
    off = np.min([np.abs(np.hypot(x - at, y - 56.0) - radius) for at, radius in discs], axis=0)
    across, down = places_of_grid()
    inside = np.any([np.hypot(across - at, down - 56.0) < radius for at, radius in discs], axis=0)
    read = reading(
        band(off / MAP_MM),
        outer=np.full(x.shape, 255, np.uint8),
        subject=np.full((28, 38), subject, np.uint8),
    )
    small = detected(np.where(inside, 60, 180).astype(np.uint8), read)
    assert small.edges is not None
    seen = replace(
        small,
        grid=PixelGrid(across_mm=1.0, down_mm=1.0),
        edges=replace(small.edges, size_mm=(600.0, 450.0)),
    )
    lines = judged(seen, seen.chains, 0.5)
    weight = weights(seen, lines, needed(0.5))
    middle = lines.chains.means(seen.points.x) * 0.25
    found = [int(weight[np.abs(middle - at) < 5.0].max()) for at, _ in discs]
    assert found == expected


def test_what_bounds_the_subject_recedes_by_a_step_at_most() -> None:
    assert weights_by_focus(65.0, subject_mm=30.0) == ({INNER, PLAIN}, {FORM})


@pytest.mark.parametrize(("outer", "heaviest"), [(0.5, FORM), (0.1, PLAIN)])
def test_what_bounds_nothing_is_no_outer_contour_however_plain_it_is(
    outer: float, heaviest: int
) -> None:
    """Edges that are judged by contrast, as the reading has no ridge there."""
    found = detected(as_bytes(stripes(120.0)), reading(NOTHING))
    nothing = np.zeros(len(found.points), np.float32)
    said = replace(found.evidence, ridge=nothing, sure=nothing + 1, outer=nothing + outer)
    seen = replace(found, evidence=said)
    lines = judged(seen, seen.chains, 0.5)
    assert weights(seen, lines, needed(0.5)).max() == heaviest


def weights_by_focus(
    soft_mm: float, blur_px: float = 10.0, subject_mm: float | None = None
) -> tuple[set[int], set[int]]:
    """Weights of outer contours that are out of focus up to some place, and of the others.

    What the picture is of begins at a place, if that is known.
    """
    (x, _), (across, _) = places_of_map(), places_of_grid()
    aside = np.abs((x + 7.5) % 15 - 7.5)
    sharp = 128 + 60 * np.sign(np.sin(across * np.pi / 15))
    grey = np.where(across < soft_mm, gaussian_filter(sharp, blur_px), sharp)
    outer = np.full(x.shape, 255, np.uint8)
    read = reading(band(aside / MAP_MM), outer=outer)
    if subject_mm is not None:
        read = replace(read, subject=np.where(x[::4, ::4] < subject_mm, 10, 245).astype(np.uint8))
    strokes = drawn(np.rint(grey).astype(np.uint8), read)
    at = np.array([strokes.curves_mm[first, 0, 0] for first in strokes.first[:-1]])
    soft, rest = at < soft_mm - 20, at > soft_mm + 20
    return set(strokes.weight[soft].tolist()), set(strokes.weight[rest].tolist())


def test_what_is_out_of_focus_is_lighter_unless_it_is_most_of_the_picture() -> None:
    assert weights_by_focus(50.0) == ({INNER}, {FORM})
    assert weights_by_focus(50.0, blur_px=4.0) == ({PLAIN}, {FORM})
    assert weights_by_focus(100.0) == ({FORM}, {FORM})


def test_the_outline_of_a_small_head_is_heavy_and_what_is_in_it_is_not() -> None:
    """A head of 56 mm with two lines in it that part forms as much."""
    (x, y), (across, down) = places_of_map(), places_of_grid()
    inner = (65.0, 85.0)
    off = np.abs(np.hypot(x - 75.0, y - 56.0) - 28.0)
    long = np.maximum(np.abs(y - 56.0) - 12.0, 0)
    aside = np.min([off, *(np.hypot(x - each, long) for each in inner)], axis=0)
    grey = np.where(np.hypot(across - 75.0, down - 56.0) < 28.0, 190.0, 60.0)
    stripe = (np.abs(across - 75.0) < 10.0) & (np.abs(down - 56.0) < 12.0)
    grey[stripe] = 80.0
    box = Area(left=47 / 150, top=28 / 112.5, width=56 / 150, height=56 / 112.5)
    read = reading(
        band(aside / MAP_MM),
        outer=np.full(x.shape, 255, np.uint8),
        faces=(Face(box=box, head=box, eyes=()),),
    )
    strokes = drawn(np.rint(grey).astype(np.uint8), read)
    weight = {FORM: 0.0, PLAIN: 0.0, INNER: 0.0}
    for number, kind in enumerate(strokes.weight.tolist()):
        curves = strokes.curves_mm[strokes.first[number] : strokes.first[number + 1]]
        far = np.hypot(*(curves.reshape(-1, 2) - (75.0, 56.0)).T)
        assert (kind == FORM) == (np.median(far) > 22.0)
        weight[kind] += float(strokes.length_mm[number])
    assert weight[FORM] > 0.9 * 2 * np.pi * 28.0
    assert weight[PLAIN] + weight[INNER] > 40.0
