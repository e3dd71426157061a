"""How heavy lines are drawn, in pictures and readings made for it."""

from __future__ import annotations

import numpy as np

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
