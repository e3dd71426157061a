"""Lines that tremble, against the forms that they came from."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest

from worker.picture.outline import polylines
from worker.picture.outline.fairing.fairing import faired
from worker.picture.outline.polylines import Polylines, joined_lines

Floats = npt.NDArray[np.float64]
STEP_MM = 0.5


def line(places: Floats, *, closed: bool = False) -> Polylines:
    """One line."""
    return Polylines(places=places, first=np.array([0, len(places)]), closed=np.array([closed]))


def straight(length_mm: float) -> Floats:
    """Places along a straight line."""
    along = np.arange(0, length_mm, STEP_MM)
    return np.stack((along, 0 * along), axis=1)


def ring(radius_mm: float) -> Floats:
    """A circle, its first place again at the end."""
    angle = np.linspace(0, math.tau, round(math.tau * radius_mm / STEP_MM) + 1)
    return radius_mm * np.stack((np.cos(angle), np.sin(angle)), axis=1)


def made_fair(lines: Polylines, known_mm: float) -> Polylines:
    """The lines as they come out if all of their places are known alike."""
    count = len(lines.places)
    return faired(lines, np.full(count, known_mm), np.zeros(count, bool))


def trembling(places: Floats, by_mm: float) -> Floats:
    """The same line, off to and fro every few millimetres; the ends stay."""
    off = np.random.default_rng(3).uniform(-by_mm, by_mm, len(places) // 4 + 2)
    aside = np.interp(np.arange(len(places)) / 4, np.arange(len(off)), off)
    aside[[0, -1]] = 0
    return places + np.stack((0 * aside, aside), axis=1)


def bent_rad(lines: Polylines) -> float:
    """How far a line turns in all, to and fro."""
    way = np.diff(lines.places, axis=0)
    angle = np.unwrap(np.arctan2(way[:, 1], way[:, 0]))
    return float(np.abs(np.diff(angle)).sum())


def test_a_line_that_trembles_within_what_is_known_becomes_fair() -> None:
    lines = line(trembling(straight(80), 0.6))
    found = made_fair(lines, 1.0)
    assert bent_rad(found) < bent_rad(lines) / 10
    assert np.abs(found.places[:, 1]).max() < 0.35


def test_what_is_known_stays_as_it_is() -> None:
    lines = line(trembling(straight(80), 0.6))
    found = made_fair(lines, 0.05)
    assert np.hypot(*(found.places - lines.places).T).max() <= 0.05


@pytest.mark.parametrize("known_mm", [0.1, 0.5, 1.6])
def test_no_place_is_further_from_a_line_than_it_is_known(known_mm: float) -> None:
    lines = line(trembling(straight(80), 1.0))
    found = made_fair(lines, known_mm)
    assert np.hypot(*(found.places - lines.places).T).max() <= known_mm + 1e-9


def test_a_corner_that_stands_out_stays_sharp() -> None:
    sides = np.concatenate((straight(20), straight(20)[:, ::-1] + (20, 0)))
    found = made_fair(line(sides), 0.5)
    assert np.abs(found.places - sides).max() < 0.02


def test_a_tooth_that_is_larger_than_what_is_known_stays() -> None:
    places = straight(80)
    places[:, 1] += 3.0 * np.exp(-(((places[:, 0] - 40) / 1.5) ** 2))
    found = made_fair(line(places), 0.8)
    assert found.places[:, 1].max() > 2.5


@pytest.mark.parametrize("radius_mm", [1.5, 2.5, 5.0, 20.0])
def test_a_circle_stays_round_and_as_large_as_it_is(radius_mm: float) -> None:
    found = made_fair(line(ring(radius_mm), closed=True), 1.6)
    assert np.abs(np.hypot(*found.places.T) - radius_mm).max() < 0.01 * radius_mm
    assert np.allclose(found.places[0], found.places[-1])


def test_a_narrow_tip_stays_round() -> None:
    """A leaf's end, a finger: there means over both sides would make a point."""
    half = np.linspace(-math.pi / 2, math.pi / 2, 14)
    tip = 2.0 * np.stack((np.cos(half), np.sin(half)), axis=1)
    sides = np.arange(-30, 0, STEP_MM)
    lower = np.stack((sides, 0 * sides - 2), axis=1)
    upper = np.stack((sides[::-1], 0 * sides + 2), axis=1)
    places = np.concatenate((lower, tip, upper))
    found = made_fair(line(places), 1.6)
    assert np.hypot(*(found.places - places).T).max() < 0.15


def test_a_gap_is_drawn_as_the_curve_that_it_interrupts() -> None:
    places = ring(30.0)[:200]
    lines = line(np.delete(places, np.arange(90, 106), axis=0))
    found = made_fair(lines, 0.3)
    assert len(found.places) > len(lines.places) + 10
    assert np.abs(np.hypot(*found.places.T) - 30.0).max() < 0.1


def test_places_that_stay_are_not_moved() -> None:
    places = trembling(straight(80), 0.6)
    stays = np.zeros(len(places), bool)
    stays[60:100] = True
    found = faired(line(places), np.full(len(places), 1.0), stays)
    assert np.array_equal(found.places[60:100], places[60:100])


def test_the_parts_that_are_worked_on_make_no_difference(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = joined_lines(*(line(trembling(straight(40), by)) for by in (0.2, 0.4, 0.6)))
    together = made_fair(lines, 0.8)
    monkeypatch.setattr(polylines.in_parts, "__defaults__", (70,))
    apart = made_fair(lines, 0.8)
    assert np.allclose(apart.places, together.places)
    assert np.array_equal(apart.first, together.first)


def test_no_line_is_none() -> None:
    nothing = Polylines(
        places=np.zeros((0, 2)), first=np.zeros(1, np.int64), closed=np.zeros(0, bool)
    )
    assert made_fair(nothing, 1.0) is nothing
