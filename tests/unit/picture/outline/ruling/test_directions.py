"""Directions of straight lines around."""

from __future__ import annotations

import numpy as np
import pytest

from worker.picture.outline.polylines import Polylines
from worker.picture.outline.ruling.directions import alike, turned
from worker.picture.outline.ruling.fitting import Stretches

#: Five level lines of 30 mm, 10 mm apart, and what is looked at: from (0, 55) on.
LEVEL = [((0.0, 10.0 * at), (30.0, 10.0 * at)) for at in range(5)]


def stretches(
    *ends: tuple[tuple[float, float], tuple[float, float]],
) -> tuple[Polylines, Stretches]:
    """Lines of two places each."""
    places = np.array(ends, float).reshape(-1, 2)
    first = np.arange(0, len(places) + 1, 2)
    lines = Polylines(places=places, first=first, closed=np.zeros(len(ends), np.bool_))
    begin, end = first[:-1], first[1:] - 1
    way = places[end] - places[begin]
    way /= np.hypot(*way.T)[:, None]
    middle = (places[end] + places[begin]) / 2
    return lines, Stretches(begin=begin, end=end, middle=middle, way=way)


def rise(slope: float, far_mm: float = 0.0, near_mm: float = 0.9) -> float:
    """The slope of a line of 20 mm after it was turned, and others as they are."""
    lines, all_ = stretches(*LEVEL, ((far_mm, 55.0), (far_mm + 20.0, 55.0 + 20.0 * slope)))
    near = np.full(len(lines.places), near_mm)
    last = np.arange(len(all_)) == len(LEVEL)
    found = turned(lines, all_.taken(last), all_.taken(~last), near)
    assert np.hypot(*found.way[0]) == pytest.approx(1)
    return float(found.way[0, 1] / found.way[0, 0])


def test_what_lies_a_little_aslant_gets_the_direction_of_those_around() -> None:
    assert rise(0.12) == pytest.approx(0, abs=0.02)
    assert rise(-0.12) == pytest.approx(0, abs=0.02)


def test_what_runs_otherwise_stays() -> None:
    """Far aslant, far away, or known too well."""
    assert rise(0.5) == pytest.approx(0.5)
    assert rise(0.12, far_mm=200.0) == pytest.approx(0.12)
    assert rise(0.12, near_mm=0.2) == pytest.approx(0.12)


def test_what_is_alike_has_enough_of_others_around() -> None:
    lines, others = stretches(*LEVEL)
    middle = np.array(((10.0, 55.0), (10.0, 55.0), (300.0, 55.0)))
    way = np.array(((-1.0, 0.02), (0.8, 0.6), (1.0, 0.0)))
    assert alike(lines, others, middle, way).tolist() == [True, False, False]
    lines, one = stretches(LEVEL[0])
    assert not alike(lines, one, middle[:1], way[:1]).any()
