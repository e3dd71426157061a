"""Lines go on along the reading: forms are closed, junctions met, nothing else added."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.contours.test_contour_lines import (
    MAP,
    MAP_MM,
    band,
    placed,
    places_of_map,
    reading,
)
from tests.unit.picture.outline.given_lines import along
from tests.unit.picture.outline.lines import Bytes, Floats
from worker.picture.outline.closing.closed_forms import closed
from worker.picture.outline.closing.going_on import Drawn
from worker.picture.outline.points.chains import Chains
from worker.spec.reading import Face, Reading
from worker.spec.spec import Area

#: A pixel of the picture's grid.
PITCH_MM = 0.25


def drawn(*ways: Floats, weight: tuple[int, ...] = ()) -> Drawn:
    """Lines through places in mm."""
    places = np.concatenate(ways) / PITCH_MM - 0.5
    first = np.concatenate(([0], np.cumsum([len(way) for way in ways])))
    return Drawn(
        chains=Chains(order=np.arange(len(places)), first=first, closed=np.zeros(len(ways), bool)),
        weight=np.array(weight or [1] * len(ways), np.uint8),
        x=places[:, 0].astype(np.float32),
        y=places[:, 1].astype(np.float32),
        like=np.zeros(0, np.int64),
    )


def bordering(contour: Bytes) -> Reading:
    """A reading of contours that bound forms, all of them."""
    return replace(reading(contour), outer=contour)


def lines_of(found: Drawn) -> list[Floats]:
    """The places of each line, in mm."""
    chains = found.chains
    places = (np.stack((found.x, found.y), axis=1)[chains.order] + 0.5) * PITCH_MM
    return np.split(places, chains.first[1:-1])


def far_from(places: Floats, one: tuple[float, float], two: tuple[float, float]) -> Floats:
    """How far places are from a straight way between two."""
    way = np.subtract(two, one)
    share = np.clip((places - one) @ way / (way @ way), 0, 1)
    return np.hypot(*(places - one - share[:, None] * way).T)


def lit(*ways: tuple[tuple[float, float], tuple[float, float]]) -> Floats:
    """How far each pixel of the map is from the nearest of some straight ways, in its pixels."""
    places = np.stack(places_of_map(), axis=2).reshape(-1, 2)
    far = [far_from(places, *way) for way in ways]
    return np.min(far, axis=0).reshape(MAP) / MAP_MM


def round_map(middle: tuple[float, float], radius: float) -> Bytes:
    across, down = places_of_map()
    return band((np.hypot(across - middle[0], down - middle[1]) - radius) / MAP_MM)


def arc(middle: tuple[float, float], radius: float, degrees: tuple[float, float]) -> Floats:
    angle = np.radians(np.arange(*degrees, np.degrees(PITCH_MM / radius)))
    return np.array(middle) + radius * np.stack((np.cos(angle), np.sin(angle)), axis=1)


def test_an_end_meets_the_line_that_it_runs_into() -> None:
    across, down = ((20.0, 40.0), (120.0, 40.0)), ((70.0, 100.0), (70.0, 40.0))
    lines = drawn(along(*across), along((70.0, 100.0), (70.0, 46.0)))
    whole, met = lines_of(closed(placed(bordering(band(lit(across, down)))), lines))
    assert far_from(met[-1:], *across)[0] < 0.1
    assert far_from(met, *down).max() < MAP_MM
    assert len(whole) == len(along(*across))


def test_an_end_meets_a_line_aslant() -> None:
    across, down = ((20.0, 40.0), (120.0, 40.0)), ((100.0, 100.0), (65.0, 40.0))
    share = 0.9
    short = tuple(np.array(down[0]) + share * np.subtract(down[1], down[0]))
    lines = drawn(along(*across), along(down[0], short))
    met = lines_of(closed(placed(bordering(band(lit(across, down)))), lines))[1]
    assert far_from(met[-1:], *across)[0] < 0.1
    assert np.hypot(*(met[-1] - down[1])) < 2 * MAP_MM


@pytest.mark.parametrize("turn", [1, -1])
def test_two_ends_of_one_band_become_one_line(turn: int) -> None:
    way = ((20.0, 40.0), (120.0, 70.0))
    places = along(*way)
    parts = (places[:80], places[96:][::turn])
    found = closed(placed(bordering(band(lit(way)))), drawn(*parts, weight=(3, 1)))
    (line,) = lines_of(found)
    assert far_from(line, *way).max() < MAP_MM / 2
    assert np.hypot(*np.diff(line, axis=0).T).max() < 1.5
    assert found.weight.tolist() == [1], "the longer part says how heavy"


def test_a_ring_with_a_gap_is_closed() -> None:
    middle, radius = (70.0, 55.0), 15.0
    read = placed(bordering(round_map(middle, radius)))
    found = closed(read, drawn(arc(middle, radius, (20, 340))))
    assert found.chains.closed.tolist() == [True]
    (ring,) = lines_of(found)
    assert np.abs(np.hypot(*(ring - middle).T) - radius).max() < MAP_MM
    assert np.array_equal(ring[0], ring[-1])


def test_corners_of_a_form_meet() -> None:
    corners = ((40.0, 30.0), (100.0, 35.0), (65.0, 85.0))
    sides = [(corners[at], corners[(at + 1) % 3]) for at in range(3)]
    # Each side stops short of the corner where it ends, and begins at the one before.
    lines = [along(*side)[:-12] for side in sides]
    found = closed(placed(bordering(band(lit(*sides)))), drawn(*lines))
    lines = lines_of(found)
    for line, corner in zip(lines, (*corners[1:], corners[0]), strict=True):
        others = np.concatenate([other for other in lines if other is not line])
        assert np.hypot(*(line[-1] - corner)) < MAP_MM
        assert np.hypot(*(others - line[-1]).T).min() < 0.1


def test_folds_run_out_and_borders_go_on() -> None:
    across, down = ((20.0, 40.0), (120.0, 40.0)), ((70.0, 100.0), (70.0, 40.0))
    lines = drawn(along(*across), along((70.0, 100.0), (70.0, 46.0)))
    lit_there = band(lit(across, down))
    box = Area(left=0.2, top=0.2, width=0.6, height=0.6)
    face = Face(box=box, head=box, eyes=())
    fold = reading(lit_there)
    in_face = replace(bordering(lit_there), outer=np.full(MAP, 100, np.uint8), faces=(face,))
    assert len(closed(placed(fold), lines).like) == 0
    assert len(closed(placed(in_face), lines).like) == 0
    assert len(closed(placed(replace(in_face, faces=())), lines).like) > 0
    assert len(closed(placed(replace(in_face, outer=lit_there)), lines).like) > 0


def test_a_gap_that_is_not_lit_stays_open() -> None:
    across, down = ((20.0, 40.0), (120.0, 40.0)), ((70.0, 100.0), (70.0, 46.0))
    lines = drawn(along(*across), along(*down))
    found = closed(placed(bordering(band(lit(across, down)))), lines)
    assert len(found.like) == 0


@pytest.mark.parametrize("long_mm", [80.0, 60.0])
def test_long_lines_go_on_where_a_short_one_would_not(long_mm: float) -> None:
    """Places are twice as far apart here as points are, so that lines count half."""
    across, down = ((20.0, 20.0), (120.0, 20.0)), ((70.0, 110.0), (70.0, 20.0))
    faint = np.rint(0.73 * band(lit(across, down)).astype(np.float64)).astype(np.uint8)
    lines = drawn(along(*across), along((70.0, 26.0 + long_mm), (70.0, 26.0)))
    met = lines_of(closed(placed(bordering(faint)), lines))[1]
    assert (far_from(met[-1:], *across)[0] < 0.1) == (long_mm > 2 * 39)


@pytest.mark.parametrize("behind", [10, 245])
def test_what_bounds_the_subject_goes_on_where_nothing_else_would(behind: int) -> None:
    """The subject is on one side of a faint contour; or everywhere, so that it bounds nothing."""
    across, down = ((20.0, 20.0), (120.0, 20.0)), ((70.0, 100.0), (70.0, 20.0))
    faint = np.rint(0.5 * band(lit(across, down)).astype(np.float64)).astype(np.uint8)
    x, _ = places_of_map()
    subject = np.where(x > 70, 245, behind).astype(np.uint8)[::4, ::4]
    read = replace(bordering(np.maximum(faint, band(lit(across)))), subject=subject)
    lines = drawn(along(*across), along((70.0, 100.0), (70.0, 26.0)))
    met = lines_of(closed(placed(read), lines))[1]
    assert (far_from(met[-1:], *across)[0] < 0.1) == (behind < 128)


def test_a_gap_that_is_too_wide_stays_open() -> None:
    across, down = ((20.0, 40.0), (120.0, 40.0)), ((70.0, 100.0), (70.0, 40.0))
    lines = drawn(along(*across), along(down[0], (70.0, 65.0)))
    found = closed(placed(bordering(band(lit(across, down)))), lines)
    assert len(found.like) == 0


def test_nothing_is_added_over_texture() -> None:
    random = np.random.default_rng(3)
    texture = random.integers(0, 150, MAP).astype(np.uint8)
    lines = drawn(
        *(along((x, y), (x + 12, y + 5)) for x in range(10, 120, 25) for y in range(10, 100, 15))
    )
    found = closed(placed(bordering(texture)), lines)
    assert len(found.like) == 0


def test_a_line_beside_another_is_not_joined_with_it() -> None:
    across = ((20.0, 40.0), (120.0, 40.0))
    lines = drawn(along(*across), along((50.0, 42.5), (80.0, 42.5)))
    found = closed(placed(bordering(band(lit(across), 3.0))), lines)
    assert len(found.like) == 0


#: A level contour in two parts, the second of which begins with a stray end.
ACROSS = ((4.0, 40.0), (140.0, 40.0))
STRAY = along((63.5, 44.5), (70.0, 40.0))[:-1]
PARTS = (along(ACROSS[0], (57.0, 40.0)), np.concatenate((STRAY, along((70.0, 40.0), ACROSS[1]))))


def above_subject(*others: tuple[tuple[float, float], tuple[float, float]], below: int) -> Reading:
    """That contour and others read, with so much of a subject below the first."""
    _, y = places_of_map()
    subject = np.where(y > 40, below, 10).astype(np.uint8)[::4, ::4]
    return replace(bordering(band(lit(ACROSS, *others))), subject=subject)


@pytest.mark.parametrize("below", [245, 10])
def test_a_stray_end_gives_way_to_what_goes_on_along_the_subject(below: int) -> None:
    """The subject is below a contour; or nowhere, so that this bounds nothing."""
    lines = lines_of(closed(placed(above_subject(below=below)), drawn(*PARTS)))
    off = [far_from(line, *ACROSS).max() for line in lines]
    assert (len(lines) == 1 and off[0] < MAP_MM) == (below > 128)


@pytest.mark.parametrize("at", [0, 10], ids=["at its end", "within"])
def test_a_stray_end_on_which_a_line_hangs_stays(at: int) -> None:
    lines = drawn(*PARTS, along((STRAY[at][0], 70.0), tuple(STRAY[at]))[:-1])
    chains = lines.chains
    hung = len(PARTS[0]) + at
    chains = Chains(
        order=np.append(chains.order, hung),
        first=np.append(chains.first[:-1], chains.first[-1] + 1),
        closed=chains.closed,
    )
    found = closed(placed(above_subject(below=245)), replace(lines, chains=chains))
    assert np.count_nonzero(found.chains.order == hung) == 2


@pytest.mark.parametrize(("level", "upright"), [(1.0, 0.85), (0.85, 1.0)])
def test_no_way_ends_on_a_stray_end_that_gives_way(level: float, upright: float) -> None:
    """A line comes to the stray end from below: the likelier of both ways is drawn."""
    end = (float(STRAY[8][0]), float(STRAY[8][1]))
    up = ((end[0], 90.0), end)
    read = above_subject(below=245)
    likely = np.maximum(level * band(lit(ACROSS)), upright * band(lit(up)))
    seen = np.rint(likely).astype(np.uint8)
    read = replace(read, contour=seen, outer=seen)
    found = closed(placed(read), drawn(*PARTS, along(up[0], (end[0], end[1] + 5))))
    on_stray = np.isin(len(PARTS[0]) + np.arange(len(STRAY)), found.chains.order)
    assert len(found.chains) == (2 if level > upright else 3)
    assert set(on_stray[:-1].tolist()) == {upright > level}
