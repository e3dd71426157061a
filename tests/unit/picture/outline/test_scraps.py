"""Which lines of a ground are left out, in pictures and readings made for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.contours.test_contour_lines import (
    MAP,
    MAP_MM,
    Bytes,
    Floats,
    band,
    drawn,
    places_of_grid,
    places_of_map,
    reading,
)
from tests.unit.picture.outline.test_prominence import detected
from worker.picture.outline.judging import judged
from worker.picture.outline.scraps import scraps
from worker.spec.reading import Reading
from worker.spec.spec import Outline

#: The reading is so sure of the line.
LIKELY = 0.75
LEFT_MM, RIGHT_MM, HEIGHT_MM = 50.0, 90.0, 56.0


def ground() -> Floats:
    """Grass: texture as fine as the lines that are looked for, in levels."""
    rough = gaussian_filter(np.random.default_rng(8).normal(0, 1, (450, 600)), 2.0)
    return np.asarray(30 * rough / rough.std())


def read_line(likely: float) -> Reading:
    """A level line of 40 mm."""
    x, y = places_of_map()
    beyond = np.maximum(np.maximum(LEFT_MM - x, x - RIGHT_MM), 0)
    seen = likely * band(np.hypot(y - HEIGHT_MM, beyond) / MAP_MM)
    return reading(np.rint(seen).astype(np.uint8), outer=np.full(MAP, 255, np.uint8))


def as_bytes(grey: Floats) -> Bytes:
    return np.rint(np.clip(grey, 0, 255)).astype(np.uint8)


def length_mm(grey: Floats, detail: float = 0.5, likely: float = LIKELY) -> float:
    """How much of that line is drawn."""
    strokes = drawn(as_bytes(grey), read_line(likely), Outline(detail=detail))
    return float(strokes.length_mm.sum())


def is_scrap(grey: Floats) -> bool:
    """Whether the line is one, if it is worth no more than what is left out else."""
    found = detected(as_bytes(grey), read_line(LIKELY))
    lines = judged(found, found.chains, 0.5)
    at = np.argmax(lines.length_mm * (lines.likely > 0.5))
    alone = lines.taken(np.arange(len(lines.worth)) == at)
    return bool(scraps(found, replace(alone, worth=np.ones_like(alone.worth)), 0.5)[0])


def step(levels: float) -> Floats:
    return np.asarray(128 + levels / 2 * np.sign(places_of_grid()[1] - HEIGHT_MM))


def test_a_scrap_of_a_ground_is_left_out() -> None:
    assert length_mm(128 + ground()) < 10
    # Without the texture it is drawn.
    assert length_mm(step(30.0)) > 30
    assert is_scrap(128 + ground())
    assert not is_scrap(step(30.0))


def test_what_parts_two_grounds_is_no_scrap() -> None:
    """Its own contrast is that of the texture, but both sides differ as wholes."""
    apart = gaussian_filter(step(120.0), 20.0)
    assert not is_scrap(apart + ground())
    assert length_mm(step(70.0) + ground()) > 30


def test_what_the_reading_is_sure_of_is_drawn_in_any_ground() -> None:
    assert length_mm(128 + ground(), likely=1.0) > 30


def test_whoever_wants_texture_has_it() -> None:
    assert length_mm(128 + ground(), detail=0.75) > 30
