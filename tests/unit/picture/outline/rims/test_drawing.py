"""Lines of one ellipse lie on it, and others stay as they are."""

from __future__ import annotations

import numpy as np
import pytest

from worker.picture.outline.polylines import Polylines
from worker.picture.outline.rims.drawing import with_rims

AXES, MIDDLE = np.array((80.0, 50.0)), np.array((120.0, 90.0))


def arc(start: float, stop: float, *, axes: np.ndarray = AXES) -> np.ndarray:
    t = np.arange(start, stop, 0.35 / axes.max())
    return MIDDLE + axes * np.stack((np.cos(t), np.sin(t)), axis=1)


def lines_of(*ways: np.ndarray) -> Polylines:
    return Polylines(
        places=np.concatenate(ways),
        first=np.cumsum([0, *map(len, ways)]),
        closed=np.zeros(len(ways), np.bool_),
    )


def laid(lines: Polylines, known_mm: np.ndarray, stays: np.ndarray) -> tuple[Polylines, np.ndarray]:
    """Lines on their rims, and the places that are."""
    found = with_rims(lines, known_mm, stays)
    return found.lines, found.on


def drawn(*ways: np.ndarray, known_mm: float = 1.0) -> tuple[Polylines, np.ndarray]:
    lines = lines_of(*ways)
    many = len(lines.places)
    return laid(lines, np.full(many, known_mm), np.zeros(many, np.bool_))


def off(places: np.ndarray, axes: np.ndarray = AXES) -> np.ndarray:
    """How far from the ellipse, in mm (to first order)."""
    at = (places - MIDDLE) / axes
    return np.abs((at**2).sum(axis=1) - 1) / (2 * np.hypot(*(at / axes).T))


def bulged(start: float, stop: float, at: float, high_mm: float, wide: float) -> np.ndarray:
    """An arc with one smooth bulge outwards."""
    way = arc(start, stop)
    t = np.arange(start, stop, 0.35 / AXES.max())[: len(way)]
    out = (way - MIDDLE) / AXES**2
    out /= np.hypot(*out.T)[:, None]
    return way + high_mm * np.exp(-(((t - at) / wide) ** 2))[:, None] * out


def test_a_short_bulge_of_a_rim_is_ironed() -> None:
    """Gloss that crosses a rim moves it by a mm or two over some mm."""
    way = bulged(0.2, 6.0, 3.0, 1.8, 0.06)
    assert off(way).max() > 1.7
    lines, on = drawn(way)
    assert off(lines.places).max() < 0.1
    assert on.mean() > 0.9


def test_a_bulge_that_is_plainly_there_stays() -> None:
    way = bulged(0.2, 6.0, 3.0, 1.8, 0.06)
    lines, _ = drawn(way, known_mm=0.05)
    assert (lines.places == way)[off(way) > 0.3].all()
    assert np.hypot(*(lines.places - way).T).max() < 0.3


def test_what_leaves_a_rim_for_long_stays() -> None:
    """A handle is no gloss."""
    way = bulged(0.2, 6.0, 3.0, 12.0, 0.2)
    lines, on = drawn(way)
    far = off(way) > 3.0
    assert (lines.places[far] == way[far]).all()
    assert not on[far].any()


def test_two_arcs_of_one_rim_lie_on_one_ellipse() -> None:
    """Each of them trembles, and both together tell where it is."""
    ways = []
    for start, stop in ((0.2, 2.9), (3.3, 6.0)):
        way = arc(start, stop)
        tremble = 0.5 * np.sin(np.arange(len(way)) / 9.0)[:, None]
        ways.append(way + tremble * (way - MIDDLE) / np.hypot(*(way - MIDDLE).T)[:, None])
    lines, on = drawn(*ways)
    assert off(np.concatenate(ways)).max() > 0.4
    assert off(lines.places[on]).max() < 0.1
    assert on.mean() > 0.9


def test_a_bow_and_a_square_are_no_rims() -> None:
    bow = arc(0.2, 1.6)
    side = np.arange(0.0, 60.0, 0.35)
    square = np.concatenate(
        [
            np.stack((side, 0 * side), 1),
            np.stack((60 + 0 * side, side), 1),
            np.stack((60 - side, 60 + 0 * side), 1),
            np.stack((0 * side, 60 - side), 1),
        ]
    )
    lines, on = drawn(bow, square)
    assert not on.any()
    assert (lines.places == np.concatenate((bow, square))).all()


def test_ruled_places_stay() -> None:
    lines = lines_of(bulged(0.2, 6.0, 3.0, 1.8, 0.06))
    same, on = laid(lines, np.ones(len(lines.places)), np.ones(len(lines.places), np.bool_))
    assert (same.places == lines.places).all()
    assert not on.any()


def test_two_rims_side_by_side_are_two() -> None:
    """The edges of a plate's rim are some mm apart, and neither goes over to the other."""
    inner = AXES - 4.0
    lines, _ = drawn(arc(0, 6.2), arc(0, 6.2, axes=inner))
    first = lines.first[1]
    assert off(lines.places[:first]).max() < 0.05
    assert off(lines.places[first:], inner).max() < 0.05


def test_no_lines_give_none() -> None:
    nothing = Polylines(
        places=np.zeros((0, 2)), first=np.zeros(1, np.int64), closed=np.zeros(0, np.bool_)
    )
    lines, on = laid(nothing, np.zeros(0), np.zeros(0, np.bool_))
    assert not len(lines.places)
    assert not len(on)


@pytest.mark.parametrize("turn", [0.0, 0.7])
def test_a_ring_stays_closed(turn: float) -> None:
    t = np.linspace(turn, turn + 2 * np.pi, 900)
    way = MIDDLE + AXES * np.stack((np.cos(t), np.sin(t)), axis=1)
    way[-1] = way[0]
    lines = Polylines(places=way, first=np.array((0, 900)), closed=np.ones(1, np.bool_))
    moved, _ = laid(lines, np.ones(900), np.zeros(900, np.bool_))
    assert (moved.places[0] == moved.places[-1]).all()


def closed(way: np.ndarray) -> Polylines:
    return Polylines(places=way, first=np.array((0, len(way))), closed=np.ones(1, np.bool_))


def test_a_rim_goes_over_its_seam_without_a_step() -> None:
    """A handle leaves it some mm before the last place, which is the first."""
    t = np.linspace(0, 2 * np.pi, 1200)
    out = np.stack((np.cos(t), np.sin(t)), axis=1) / AXES
    out /= np.hypot(*out.T)[:, None]
    off_mm = 0.6 * np.exp(-(((np.pi - np.abs(t - np.pi)) / 0.3) ** 2))
    off_mm += 14.0 * np.exp(-(((t - 2 * np.pi + 0.24) / 0.05) ** 2))
    way = MIDDLE + AXES * np.stack((np.cos(t), np.sin(t)), axis=1) + off_mm[:, None] * out
    way[-1] = way[0]
    moved, on = laid(closed(way), np.ones(len(way)), np.zeros(len(way), np.bool_))
    # Steps about the seam.
    seam = np.r_[len(way) - 20 : len(way) - 1, 0:20]
    before, after = (np.hypot(*np.diff(each[seam], axis=0).T) for each in (way, moved.places))
    assert on.mean() > 0.5
    assert (after < 1.2 * before).all()


@pytest.mark.parametrize("rolled", [0, 90, 274])
def test_a_ring_is_drawn_alike_wherever_its_seam_is(rolled: int) -> None:
    """Also where gloss crosses it."""
    way = np.roll(bulged(0.0, 2 * np.pi, 1.2, 1.8, 0.06), -rolled, axis=0)
    way = np.concatenate((way, way[:1]))
    moved, on = laid(closed(way), np.ones(len(way)), np.zeros(len(way), np.bool_))
    assert on.all()
    assert off(moved.places).max() < 0.1
