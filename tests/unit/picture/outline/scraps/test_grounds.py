"""Which lines of a ground are left out, in pictures and readings made for it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
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
from tests.unit.picture.outline.prominence.test_prominence import detected
from worker.picture.outline.detected_points import DetectedPoints
from worker.picture.outline.judging import Lines, judged
from worker.picture.outline.scraps import grounds as module
from worker.picture.outline.scraps.grounds import loose, scraps
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


def is_loose(grey: Floats, worth: float, detail: float = 0.5, likely: float = LIKELY) -> bool:
    """Whether the line is, if it is worth so much and nothing else is drawn."""
    found = detected(as_bytes(grey), read_line(likely))
    lines = judged(found, found.chains, 0.5)
    at = np.argmax(lines.length_mm * (lines.likely > 0.5))
    alone = lines.taken(np.arange(len(lines.worth)) == at)
    assert 30 < alone.length_mm[0] < 50
    return bool(loose(found, replace(alone, worth=np.full(1, worth, np.float32)), detail)[0])


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


def test_a_short_line_that_belongs_to_nothing_is_worth_more() -> None:
    rough = 128.0 + 0.3 * ground()
    assert is_loose(rough, worth=1.4)
    assert not is_loose(rough, worth=2.5)
    # Where fewer are wanted, what is worth as much is better.
    assert not is_loose(rough, worth=1.4, detail=0.3)
    assert not is_loose(rough, worth=1.4, detail=0.75)


def test_what_parts_two_things_is_not_loose() -> None:
    assert not is_loose(step(100.0) + 0.3 * ground(), worth=1.2)


def test_where_all_is_smooth_nothing_is_loose() -> None:
    assert not is_loose(step(8.0), worth=1.2)


def test_a_line_that_meets_others_at_both_ends_is_not_loose() -> None:
    """A level line between two upright ones that go on."""
    x, y = places_of_map()
    upright = [
        band(np.hypot(x - at, np.maximum(np.abs(y - HEIGHT_MM) - 45, 0)) / MAP_MM)
        for at in (LEFT_MM, RIGHT_MM)
    ]
    beyond = np.maximum(np.maximum(LEFT_MM - x, x - RIGHT_MM), 0)
    seen = np.maximum.reduce([*upright, LIKELY * band(np.hypot(y - HEIGHT_MM, beyond) / MAP_MM)])
    read = reading(np.rint(seen).astype(np.uint8), outer=np.full(MAP, 255, np.uint8))
    found = detected(as_bytes(128.0 + 0.3 * ground()), read)
    lines = judged(found, found.chains, 0.5)
    lines = lines.taken(lines.length_mm > 20)
    assert not loose(found, replace(lines, worth=np.full(len(lines.worth), 1.2)), 0.5).any()


def beside(
    apart_mm: float, *, wave_mm: float = 4.0, outer: int = 100, fan: float = 0.0
) -> tuple[DetectedPoints, Lines]:
    """Four wavy edges that run beside each other, or fan out to the right."""
    x, y = places_of_grid()
    edges = [HEIGHT_MM + at * (apart_mm + fan * (x - 75)) for at in (-1.5, -0.5, 0.5, 1.5)]
    y = y - wave_mm / 2 * np.sin(x * 2 * np.pi / 30)
    # Each fades towards its ends, where it would have sides of its own.
    faint = [np.clip((far - np.abs(x - 75)) / 25, 0, 1) for far in (70.0, 60.0, 55.0, 50.0)]
    grey = 128 + sum(
        sign * 20 * fading * (y > edge)
        for sign, fading, edge in zip((1, -1, 1, -1), faint, edges, strict=True)
    )
    read = reading(np.zeros(MAP, np.uint8), outer=np.full(MAP, outer, np.uint8))
    found = detected(as_bytes(grey), read)
    lines = judged(found, found.chains, 0.5)
    lines = lines.taken(lines.length_mm > 40)
    said = {"likely": 0.5, "worth": 1.2, "known": 1.0}
    alike = {name: np.full(4, each, np.float32) for name, each in said.items()}
    return found, replace(lines, **alike)


def streaks(apart_mm: float, *, wave_mm: float = 4.0, outer: int = 100) -> list[bool]:
    """Which of these are left out, from long to short; none where texture is wanted."""
    found, lines = beside(apart_mm, wave_mm=wave_mm, outer=outer)
    assert not scraps(found, lines, 0.75).any()
    return scraps(found, lines, 0.5)[np.argsort(-lines.length_mm)].tolist()


def test_of_streaks_beside_each_other_the_longest_is_drawn() -> None:
    assert streaks(5.0) == [False, True, True, True]


@pytest.mark.parametrize(("apart_mm", "fan"), [(5.0, 0.0), (8.4, 0.024)])
def test_the_more_texture_is_wanted_the_fewer_streaks_are_left_out(
    apart_mm: float, fan: float
) -> None:
    """Those that fan out are near each other for less than half their way."""
    found, lines = beside(apart_mm, fan=fan)
    out = [scraps(found, lines, detail) for detail in (0.5, 0.55, 0.6, 0.7)]
    assert all((more <= less).all() for less, more in pairwise(out))
    assert not out[-1].any()


def test_it_does_not_matter_how_many_places_are_looked_at_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found, lines = beside(5.0)
    whole = scraps(found, lines, 0.5)
    monkeypatch.setattr(module, "_AT_ONCE", 7)
    assert np.array_equal(scraps(found, lines, 0.5), whole)


def test_what_is_apart_straight_or_an_outer_contour_is_no_streak() -> None:
    assert not any(streaks(14.0))
    assert not any(streaks(5.0, wave_mm=0.0))
    assert not any(streaks(5.0, outer=255))
