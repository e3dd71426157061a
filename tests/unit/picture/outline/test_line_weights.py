"""How heavy lines are drawn, in pictures and readings made for it."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.contours.test_contour_lines import (
    MAP_MM,
    band,
    drawn,
    places_of_grid,
    places_of_map,
    reading,
)
from worker.spec.strokes import FORM, INNER, PLAIN

LINES_MM = (30.0, 60.0, 90.0, 120.0)


def weights_of(*levels: float) -> list[int]:
    """Weights from left to right of upright outer contours between forms that differ so much."""
    (x, _), (across, _) = places_of_map(), places_of_grid()
    aside = np.min([np.abs(x - each) for each in LINES_MM], axis=0)
    outer = np.full(x.shape, 255, np.uint8)
    steps = np.cumsum((40.0, *levels))
    grey = np.rint(steps[np.searchsorted(LINES_MM, across)]).astype(np.uint8)
    strokes = drawn(grey, reading(band(aside / MAP_MM), outer=outer))
    order = np.argsort([strokes.curves_mm[first, 0, 0] for first in strokes.first[:-1]])
    found: list[int] = strokes.weight[order].tolist()
    return found


def test_what_parts_forms_that_hardly_differ_is_lighter_than_an_outline() -> None:
    assert weights_of(70, 30, 15, 70) == [FORM, PLAIN, INNER, FORM]


def test_where_dark_is_on_dark_the_reading_says_how_heavy() -> None:
    assert weights_of(70, 0, 0, 70) == [FORM, FORM, FORM, FORM]


def weights_by_focus(soft_mm: float) -> tuple[set[int], set[int]]:
    """Weights of outer contours that are out of focus up to some place, and of the others."""
    (x, _), (across, _) = places_of_map(), places_of_grid()
    aside = np.abs((x + 7.5) % 15 - 7.5)
    sharp = 128 + 60 * np.sign(np.sin(across * np.pi / 15))
    grey = np.where(across < soft_mm, gaussian_filter(sharp, 10.0), sharp)
    outer = np.full(x.shape, 255, np.uint8)
    strokes = drawn(np.rint(grey).astype(np.uint8), reading(band(aside / MAP_MM), outer=outer))
    at = np.array([strokes.curves_mm[first, 0, 0] for first in strokes.first[:-1]])
    soft, rest = at < soft_mm - 20, at > soft_mm + 20
    return set(strokes.weight[soft].tolist()), set(strokes.weight[rest].tolist())


def test_what_is_out_of_focus_is_lighter_unless_it_is_most_of_the_picture() -> None:
    assert weights_by_focus(50.0) == ({PLAIN}, {FORM})
    assert weights_by_focus(100.0) == ({FORM}, {FORM})
