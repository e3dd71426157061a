"""Lids, in eyes painted for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.contours.features.test_irises import MIDDLES, RADIUS, face
from tests.unit.picture.outline.contours.test_contour_lines import (
    GRID,
    MAP_MM,
    Bytes,
    Floats,
    band,
    placed,
    places_of_grid,
    places_of_map,
)
from worker.picture.outline.contours.features.irises import irises
from worker.picture.outline.contours.features.lid_shapes import Lids, around
from worker.picture.outline.contours.features.lids import fitted, fitted_alike, lids
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.feature_lines.eye_lines import eye_lines
from worker.spec.reading import Reading
from worker.spec.strokes import INNER, PLAIN

#: Half of an eye's width, and how far both lids are from its level in the middle, in mm.
HALF, UPPER, LOWER = 12.0, 3.8, 3.4


def lid(across: Floats, high: float) -> Floats:
    """How far a lid is from the level of the corners."""
    return np.asarray(high * (1 - np.minimum(np.abs(across) / HALF, 1) ** 2))


def shaded(x: Floats, y: Floats) -> Floats:
    """Almonds of white with a dark iris on skin, lashes along the upper lid."""
    grey = np.full(x.shape, 160.0)
    for at_x, at_y in MIDDLES:
        across, down = x - at_x, y - at_y
        wide = np.abs(across) < HALF
        within = wide & (down > -lid(across, UPPER)) & (down < lid(across, LOWER))
        iris = np.where(np.hypot(across, down) < RADIUS, 55.0, 220.0)
        grey = np.where(within, iris, grey)
        lashes = wide & (np.abs(down + lid(across, UPPER)) < 0.7)
        rim = wide & (np.abs(down - lid(across, LOWER)) < 0.35)
        grey = np.where(lashes, 50.0, np.where(rim, 110.0, grey))
    return grey


def seen() -> tuple[Bytes, Reading]:
    """The picture, and a reading that has lids as broad bands."""
    grey = np.rint(gaussian_filter(shaded(*places_of_grid()), 1.0)).astype(np.uint8)
    x, y = places_of_map()
    near = np.full(x.shape, 99.0)
    for at_x, at_y in MIDDLES:
        across, down = x - at_x, y - at_y
        for rim in (-lid(across, UPPER), lid(across, LOWER)):
            off = np.hypot(down - rim, np.maximum(np.abs(across) - HALF, 0))
            near = np.minimum(near, off)
    return grey, replace(face(), contour=band(near / MAP_MM, 1.6))


def found_in(grey: Bytes, reading: PlacedReading) -> tuple[Lids, ...]:
    return lids(reading, grey, irises(reading, grey, GRID))


def off_mm(one: Lids, at: tuple[float, float]) -> float:
    """How far the curves are from the lids that were painted, at the most, but near corners."""
    worst = 0.0
    for line, rim in zip(one.lines(), (-UPPER, LOWER), strict=True):
        across, down = ((line + 0.5) * 0.25 - at).T
        here = np.abs(across) < 0.8 * HALF
        worst = max(worst, float(np.abs(down - np.sign(rim) * lid(across, abs(rim)))[here].max()))
    return worst


def test_both_lids_are_found_where_they_are() -> None:
    grey, reading = seen()
    both = found_in(grey, placed(reading))
    assert len(both) == 2
    for one, at in zip(both, MIDDLES, strict=True):
        assert off_mm(one, at) < 0.8
        corners = one.lines()[0][[0, -1]] * 0.25 - at
        assert np.abs(np.abs(corners[:, 0]) - HALF).max() < 2.0


def test_both_eyes_are_alike() -> None:
    """Below one of them a fold is darker than its lower lid, which is not seen."""
    grey, reading = seen()
    x, y = places_of_grid()
    across, down = x - MIDDLES[1][0], y - MIDDLES[1][1]
    wide = np.abs(across) < HALF
    below = wide & (down > 0) & (down < 9) & (np.hypot(across, down) > RADIUS)
    folded = np.where(below, 160.0, shaded(x, y))
    folded = np.where(wide & (np.abs(down - lid(across, LOWER) - 3.0) < 0.7), 40.0, folded)
    spoilt = np.where(x > 75, np.rint(gaussian_filter(folded, 1.0)), grey).astype(np.uint8)
    laid = placed(replace(reading, contour=np.zeros_like(reading.contour)))
    circles = irises(laid, spoilt, GRID)
    alone = fitted(laid, spoilt, circles[1], 1.0)[1]
    assert off_mm(alone, MIDDLES[1]) > 1.8
    for one, at in zip(fitted_alike(laid, spoilt, circles, 1.0)[1], MIDDLES, strict=True):
        assert off_mm(one, at) < 1.2


def test_in_a_mirrored_picture_lids_are_mirrored() -> None:
    grey, reading = seen()
    laid = placed(reading)
    width = grey.shape[1]
    # Across runs the other way from the grid's last column.
    turn = np.array(((-1.0, 0.0, width - 1.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))
    mirrored = PlacedReading(
        reading=reading, to_map=laid.to_map @ turn, to_share=laid.to_share @ turn
    )
    as_it_is = found_in(grey, laid)
    turned_round = found_in(np.ascontiguousarray(grey[:, ::-1]), mirrored)
    assert [one.hand for one in turned_round] == [-1.0, -1.0]
    for one, other in zip(as_it_is, turned_round, strict=True):
        for line, back in zip(one.lines(), other.lines(), strict=True):
            there = np.stack((width - 1 - back[:, 0], back[:, 1]), axis=1)
            # As finely as irises and templates are tried.
            assert np.abs(line - there).max() * 0.25 < 0.6


def test_of_the_eye_nothing_else_is_drawn() -> None:
    grey, reading = seen()
    laid = placed(reading)
    circles = irises(laid, grey, GRID)
    known = lids(laid, grey, circles)
    drawn = eye_lines(circles, known, grey, GRID)
    # Of each eye the iris in two arcs or in one, and both lids.
    kinds = drawn.weight.tolist()
    assert kinds.count(INNER) == 2
    assert 4 <= kinds.count(PLAIN) <= 6
    (x, y), _ = MIDDLES
    places = np.array([(x, y), (x, y - UPPER - 1.0), (x + 9, y), (x, y - 9), (x + 20, y)]) / 0.25
    within = around(known, places[:, 0].astype(np.float32), places[:, 1].astype(np.float32))
    assert within.tolist() == [True, True, True, False, False]


def test_an_iris_is_drawn_between_the_lids_alone() -> None:
    grey, reading = seen()
    laid = placed(reading)
    circles = irises(laid, grey, GRID)
    known = lids(laid, grey, circles)
    x, y = (eye_lines(circles, known, grey, GRID).lines.places.T / 0.25 - 0.5).astype(np.float32)
    for one in known:
        across, down = one.seen_from(x, y).T
        upper, lower = one.curves(across)
        on_circle = np.abs(np.hypot(across, down) - 1) < 0.01
        on_lid = np.minimum(np.abs(down - upper), np.abs(down - lower)) < 0.01
        arc = on_circle & ~on_lid
        assert arc.sum() > 40
        assert one.between(across[arc], down[arc]).all()


@pytest.mark.parametrize("what", ["noise", "nothing"])
def test_where_no_lids_are_none_are_found(what: str) -> None:
    """An iris alone on skin, as a button may be."""
    _, reading = seen()
    x, y = places_of_grid()
    grey = np.full(x.shape, 160.0)
    for at in MIDDLES:
        grey = np.where(np.hypot(x - at[0], y - at[1]) < RADIUS, 60.0, grey)
    if what == "noise":
        grey += gaussian_filter(np.random.default_rng(4).normal(0, 30, grey.shape), 2.0)
    laid = placed(replace(reading, contour=np.zeros_like(reading.contour)))
    shown = np.clip(np.rint(grey), 0, 255).astype(np.uint8)
    assert len(irises(laid, shown, GRID)) == 2
    assert found_in(shown, laid) == ()
