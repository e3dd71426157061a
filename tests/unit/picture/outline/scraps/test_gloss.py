"""Which lines are spots of light upon a form, in pictures and readings made for it."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.contours.test_contour_lines import (
    MAP_MM,
    band,
    places_of_grid,
    places_of_map,
    reading,
)
from tests.unit.picture.outline.prominence.test_prominence import as_bytes, detected
from worker.picture.outline.scraps.gloss import inner_scraps
from worker.spec.reading import Reading

#: A spot of light that is open at one side, of such a radius, and where it is.
RADIUS_MM, MIDDLE_MM = 6.0, (75.0, 56.0)


def read_arc(radius_mm: float, outer: int) -> Reading:
    """Three quarters of a ring."""
    x, y = places_of_map()
    across, down = x - MIDDLE_MM[0], y - MIDDLE_MM[1]
    far = np.abs(np.hypot(across, down) - radius_mm)
    aside = np.where((down < 0) | (np.abs(across) > 0.7 * radius_mm), far, 90.0)
    return reading(band(aside / MAP_MM), outer=np.full(x.shape, outer, np.uint8))


def scraps(radius_mm: float = RADIUS_MM, outer: int = 25, *, texture: float = 0.0) -> list[bool]:
    """Of the lines of more than 15 mm that are curved, from one end to the other, which are."""
    across, down = np.array(places_of_grid()) - np.reshape(MIDDLE_MM, (2, 1, 1))
    grey = np.where(np.hypot(across, down) < radius_mm, 230.0, 120.0)
    found = detected(as_bytes(grey), read_arc(radius_mm, outer))
    long = found.chains.lengths(found.points.x, found.points.y) * 0.25 > 15.0
    lines = found.chains.taken(long)
    return inner_scraps(found, lines, texture=texture).tolist()


def test_a_short_curved_line_that_bounds_nothing_is_one() -> None:
    assert scraps() == [True]


def test_what_bounds_a_form_or_is_long_is_none() -> None:
    assert not any(scraps(outer=200))
    assert not any(scraps(radius_mm=20.0))


@pytest.mark.parametrize(("texture", "scrap"), [(0.1, True), (0.9, False)])
def test_where_texture_is_wanted_it_is_drawn(texture: float, *, scrap: bool) -> None:
    assert scraps(texture=texture) == [scrap]
