"""Outlines of masses go on over gaps, with their hooks left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.built.given_built import built_lines, way
from worker.picture.outline.built import continuing as module
from worker.picture.outline.built.belonging import belonging, free_ends
from worker.picture.outline.built.continuing import continuing
from worker.picture.outline.polylines import Polylines

#: A tree's edge in two pieces, the second a little aside; the first ends in a hook.
UPPER = [(100.0, 40.0), (100.0, 90.0), (97.0, 91.0)]
LOWER = [(105.0, 105.0), (105.0, 160.0)]


def gap_mm(lines: Polylines) -> float:
    """How far the last place of the first line is from the first of the second."""
    return float(np.hypot(*(lines.places[lines.first[1] - 1] - lines.places[lines.first[1]])))


def test_two_pieces_of_an_edge_meet_without_their_hook() -> None:
    built = built_lines(UPPER, LOWER, bent=[0, 1], bounding=0.8)
    lines = continuing(built)
    assert gap_mm(built.lines) > 14
    assert gap_mm(lines) < 1e-9
    x, y = lines.places.T
    assert x.min() > 99.5
    assert (np.diff(y) >= 0).all()


def test_only_what_is_beside_the_gap_moves() -> None:
    built = built_lines(UPPER, LOWER, bent=[0, 1], bounding=0.8)
    moved = (continuing(built).places != built.lines.places).any(axis=1)
    assert moved.any()
    assert not moved[np.abs(built.lines.places[:, 1] - 98) > 8 + 16].any()


def test_the_order_of_the_places_does_not_matter() -> None:
    ones = continuing(built_lines(UPPER, LOWER, bent=[0, 1], bounding=0.8))
    others = continuing(built_lines(UPPER[::-1], LOWER[::-1], bent=[0, 1], bounding=0.8))
    back = np.concatenate([others.places[others.owner == line][::-1] for line in (0, 1)])
    assert back == pytest.approx(ones.places, abs=1e-6)


@pytest.mark.parametrize(
    ("lower", "bent", "bounding"),
    [
        (LOWER, [0, 1], 0.3),
        (LOWER, [1], 0.8),
        ([(105.0, 120.0), (105.0, 175.0)], [0, 1], 0.8),
        ([(110.0, 90.0), (180.0, 90.0)], [0, 1], 0.8),
        ([(105.0, 105.0), (105.0, 130.0)], [0, 1], 0.8),
    ],
    ids=["bounds nothing", "ruled", "far", "across", "short"],
)
def test_others_stay(lower: list[tuple[float, float]], bent: list[int], bounding: float) -> None:
    built = built_lines(UPPER, lower, bent=bent, bounding=bounding)
    assert np.array_equal(continuing(built).places, built.lines.places)


def test_an_end_meets_one_other_at_most() -> None:
    built = built_lines(UPPER, LOWER, [(95.0, 107.0), (95.0, 165.0)], bent=[0, 1, 2], bounding=0.8)
    lines = continuing(built)
    assert gap_mm(lines) < 1e-9
    assert np.array_equal(lines.places[lines.owner == 2], way([(95.0, 107.0), (95.0, 165.0)]))


def test_what_is_joined_belongs_together() -> None:
    built = built_lines([(100.0, 0.0), *UPPER[1:]], LOWER, bent=[0, 1], bounding=0.8)
    assert belonging(built).tolist() == [True, False]
    lines = continuing(built)
    joined = built_lines(*np.split(lines.places, lines.first[1:-1]), bent=[0, 1], bounding=0.8)
    assert belonging(joined).all()


def test_a_line_of_two_places_far_apart_stays() -> None:
    """It is long, but has no place from which a course over a hook could be taken."""
    whole = built_lines(UPPER, LOWER, bent=[0, 1], bounding=0.8)
    upper = whole.lines.places[whole.lines.owner == 0]
    lines = Polylines.of([upper, np.array([(105.0, 105.0), (105.0, 155.0)])])
    bent = np.zeros(len(lines.places), np.bool_)
    built = replace(whole, lines=lines, straight=bent)
    assert free_ends(built).all()
    assert np.array_equal(continuing(built).places, lines.places)


def test_only_ends_that_are_near_are_held_to_each_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """Many pairs of pieces as above, each far from all others."""
    asked = []
    monkeypatch.setattr(module, "_way", lambda *ends: asked.append(ends))
    many = [(80.0 * at, 0.0) for at in range(20)]
    pieces = [[(x + dx, y) for x, y in piece] for dx, _ in many for piece in (UPPER, LOWER)]
    built = built_lines(*pieces, bent=list(range(len(pieces))), bounding=0.8)
    continuing(replace(built, size_mm=(1800.0, 200.0)))
    assert len(asked) == len(many)
