"""Outer contours with gaps: what closes them, what does not, in readings made for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.closing.test_closed_forms import bordering, far_from, lit
from tests.unit.picture.outline.contours.test_contour_lines import (
    GRID,
    MAP,
    MAP_MM,
    band,
    placed,
    places_of_map,
)
from tests.unit.picture.outline.given_lines import along
from tests.unit.picture.outline.lines import Floats
from worker.picture.outline.closing.missing_outlines import missing_outlines
from worker.picture.outline.contours.placed_reading import unread
from worker.picture.outline.polylines import Polylines
from worker.spec.reading import Reading
from worker.spec.strokes import FORM, INNER, PLAIN

SIZE_MM = (150.0, 112.5)
#: The outer contour, and between which heights it is not drawn.
UPRIGHT = ((70.0, 6.0), (70.0, 108.0))
GAP_MM = (40.0, 75.0)
#: How likely a line is to be read there: far less than elsewhere.
FAINT = 0.65


def read(faint: float = FAINT, left: int = 20, right: int = 230) -> Reading:
    """An upright contour, faint in its gap, with what the picture is of on its right."""
    x, y = places_of_map()
    in_gap = (y > GAP_MM[0]) & (y < GAP_MM[1])
    contour = np.where(in_gap, faint, 1.0) * band(lit(UPRIGHT))
    subject = np.where(x > UPRIGHT[0][0], right, left).astype(np.uint8)[::4, ::4]
    outer = np.full(MAP, 230, np.uint8)
    return replace(bordering(contour.astype(np.uint8)), outer=outer, subject=subject)


def halves() -> list[Floats]:
    """What is drawn of the contour."""
    return [
        along(UPRIGHT[0], (UPRIGHT[0][0], GAP_MM[0])),
        along((UPRIGHT[0][0], GAP_MM[1]), UPRIGHT[1]),
    ]


def found(seen: Reading, *ways: Floats, many: int | None = None, wide: float = 150) -> list[Floats]:
    """The places of each missing line."""
    weight = np.full(len(ways) if many is None else many, FORM, np.uint8)
    lines, size_mm = Polylines.of(ways), (wide, SIZE_MM[1])
    missing, _ = missing_outlines(placed(seen), GRID, lines, weight, size_mm)
    return np.split(missing.places, missing.first[1:-1]) if len(missing.closed) else []


def test_two_ends_that_face_each_other_are_joined_along_what_is_read() -> None:
    one, two = halves()
    (line,) = found(read(), one, two)
    ends = line[[0, -1]]
    assert np.array_equal(ends[np.argsort(ends[:, 1])], [one[-1], two[0]])
    assert far_from(line, *UPRIGHT).max() < MAP_MM


def test_a_way_follows_a_contour_that_leaves_the_straight_way() -> None:
    x, y = places_of_map()
    share = np.clip((y - GAP_MM[0]) / (GAP_MM[1] - GAP_MM[0]), 0, 1)
    bow = UPRIGHT[0][0] + 5 * np.sin(np.pi * share) ** 2
    seen = read()
    contour = np.where(share % 1 > 0, FAINT, 1.0) * band((x - bow) / MAP_MM)
    (line,) = found(replace(seen, contour=contour.astype(np.uint8)), *halves())
    share = (line[:, 1] - GAP_MM[0]) / (GAP_MM[1] - GAP_MM[0])
    off = line[:, 0] - UPRIGHT[0][0] - 5 * np.sin(np.pi * share) ** 2
    assert np.abs(off).max() < 1.5 * MAP_MM
    assert line[:, 0].max() > UPRIGHT[0][0] + 4


def test_only_the_first_lines_go_on() -> None:
    assert found(read(), *halves(), many=1) == []


@pytest.mark.parametrize(("wide", "many"), [(72.0, 0), (80.0, 1)])
def test_ends_at_the_edge_of_the_picture_end_there(wide: float, many: int) -> None:
    assert len(found(read(), *halves(), wide=wide)) == many


@pytest.mark.parametrize(("weight", "drawn"), [((INNER, FORM), FORM), ((INNER, INNER), PLAIN)])
def test_a_way_is_as_heavy_as_the_heavier_line(weight: tuple[int, int], drawn: int) -> None:
    given = np.array(weight, np.uint8)
    _, kinds = missing_outlines(placed(read()), GRID, Polylines.of(halves()), given, SIZE_MM)
    assert kinds.tolist() == [drawn]


def test_where_nothing_is_read_nothing_is_missing() -> None:
    weight = np.full(2, FORM, np.uint8)
    missing, kinds = missing_outlines(unread(), GRID, Polylines.of(halves()), weight, SIZE_MM)
    assert len(missing.closed) == len(kinds) == 0
    none = Polylines.of([])
    assert len(missing_outlines(placed(read()), GRID, none, weight[:0], SIZE_MM)[1]) == 0


def test_texture_is_not_tied_together() -> None:
    random = np.random.default_rng(5)
    texture = random.integers(0, 150, MAP).astype(np.uint8)
    ways = [along((x, y), (x + 14, y + 6)) for x in range(10, 120, 25) for y in range(10, 100, 15)]
    assert found(replace(read(), contour=texture), *ways) == []
