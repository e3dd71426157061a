"""What is straight within its noise, and what is not."""

from __future__ import annotations

import math

import numpy as np
import pytest

from worker.picture.outline.polylines import Polylines
from worker.picture.outline.ruling.straightening import straightened


def one_line(places: np.ndarray, *, closed: bool = False) -> Polylines:
    return Polylines(places=places, first=np.array([0, len(places)]), closed=np.array([closed]))


def off_chord(places: np.ndarray) -> float:
    """The furthest place from the line between both ends."""
    way = (places[-1] - places[0]) / np.hypot(*(places[-1] - places[0]))
    rest = places - places[0]
    return float(np.abs(rest[:, 0] * way[1] - rest[:, 1] * way[0]).max())


def test_a_line_that_is_straight_within_its_noise_becomes_straight() -> None:
    along = np.arange(0, 60, 0.25)
    places = np.stack((along, 0.3 * along), axis=1)
    places += np.random.default_rng(1).normal(0, 0.03, places.shape)
    assert off_chord(places) > 0.05
    assert off_chord(straightened(one_line(places), 0.3).places) < 1e-9


def test_corners_of_a_frame_stay_corners() -> None:
    side = np.arange(0, 30, 0.25)
    corner = [(0, 0), (30, 0), (30, 30), (0, 30)]
    ways = [(1, 0), (0, 1), (-1, 0), (0, -1)]
    places = np.concatenate(
        [np.array(at) + side[:, None] * way for at, way in zip(corner, ways, strict=True)]
    )
    places = np.concatenate((places, places[:1]))
    shaken = places + np.random.default_rng(2).normal(0, 0.04, places.shape)
    shaken[-1] = shaken[0]
    found = straightened(one_line(shaken, closed=True), 0.3).places
    assert np.array_equal(found[0], found[-1])
    for at in corner:
        assert np.hypot(*(found - at).T).min() < 0.15
    assert np.abs(found - places).max() < 0.2


def test_a_circle_and_a_gentle_curve_stay_as_they_are() -> None:
    angle = np.linspace(0, math.tau, 400)
    circle = 20 * np.stack((np.cos(angle), np.sin(angle)), axis=1)
    circle[-1] = circle[0]
    ring = one_line(circle, closed=True)
    assert np.array_equal(straightened(ring, 0.3).places, ring.places)
    along = np.arange(0, 60, 0.25)
    bow = one_line(np.stack((along, 2.0 * np.sin(along * math.pi / 60)), axis=1))
    assert np.array_equal(straightened(bow, 0.3).places, bow.places)


def test_no_line_at_all_is_no_trouble() -> None:
    none = Polylines(places=np.zeros((0, 2)), first=np.zeros(1, np.int64), closed=np.zeros(0, bool))
    assert len(straightened(none, 0.3).closed) == 0


def test_a_side_that_only_a_coarse_map_knows_is_straight_though_its_corners_are_round() -> None:
    """Places wander by half of what the map resolves."""
    angle = np.linspace(0, math.pi / 2, 12)[1:-1]
    round_ = 3 * np.stack((np.sin(angle), 1 - np.cos(angle)), axis=1) + (40, 0)
    side = np.stack((np.arange(0, 40, 0.4), np.zeros(100)), axis=1)
    other = np.stack((np.full(100, 43.0), np.arange(3, 43, 0.4)), axis=1)
    wave = 0.35 * np.sin(np.arange(100) / 9 + 1.0)
    side[:, 1] += wave
    other[:, 0] += wave
    line = one_line(np.concatenate((side, round_, other)))
    near = straightened(line, 0.9).places
    assert off_chord(near[5:80]) < 0.02
    assert off_chord(near[-80:-5]) < 0.02
    assert off_chord(straightened(line, 0.2).places[5:80]) > 0.2


def test_places_that_are_known_well_decide_where_the_line_lies() -> None:
    along = np.arange(0, 80, 0.5)
    sure = along < 40
    places = np.stack((along, np.where(sure, 0.0, 0.5)), axis=1)
    found = straightened(one_line(places), np.where(sure, 0.3, 1.0)).places
    assert np.abs(found[sure, 1]).max() < 0.1


def frayed(seed: int, at: float, long_mm: float = 40.0) -> np.ndarray:
    """Something ruled with the fray of bricks, half a millimetre to either side, about as long."""
    along = np.arange(0, long_mm, 0.25)
    rough = np.random.default_rng(seed).normal(0, 1, len(along))
    fray = np.convolve(rough, np.ones(9) / 9, "same")
    return np.stack((along, at + 0.5 * fray / np.abs(fray).max()), axis=1)


def many(*ways: np.ndarray) -> Polylines:
    first = np.concatenate(([0], np.cumsum([len(way) for way in ways])))
    return Polylines(places=np.concatenate(ways), first=first, closed=np.zeros(len(ways), np.bool_))


def test_where_much_is_straight_what_is_frayed_is_ruled() -> None:
    fray = frayed(3, 0.0)
    ruled = [
        np.stack((np.arange(0, 100, 0.25), np.full(400, 5.0 * at)), axis=1) for at in range(20)
    ]
    size = len(fray)
    assert off_chord(fray) > 0.3
    assert off_chord(straightened(one_line(fray), 0.3).places) > 0.3
    among = straightened(many(fray, *ruled), 0.3).places[:size]
    assert off_chord(among[2:-2]) < 0.1
    # A head among houses is none.
    grown = np.arange(21) == 0
    assert off_chord(straightened(many(fray, *ruled), 0.3, grown).places[:size]) > 0.3


#: Many straight lines, and many that are not.
RULED = [np.stack((np.arange(0, 100, 0.25), np.full(400, 5.0 * at)), axis=1) for at in range(20)]
CURVED = [
    np.stack((np.arange(0, 100, 0.25), 250 + 5 * at + np.sin(np.arange(0, 40, 0.1))), axis=1)
    for at in range(20)
]


def among(lines: list[np.ndarray], way: np.ndarray, *others: np.ndarray) -> np.ndarray:
    """What becomes of it in a picture of such lines."""
    return straightened(many(way, *others, *lines), 0.3).places[: len(way)]


def turned(radius_mm: float) -> np.ndarray:
    """Two sides of 40 mm, right over at (0, 300), with a rounded corner between."""
    angle = np.arange(0, math.pi / 2, 0.2 / radius_mm)
    arc = radius_mm * np.stack((np.sin(angle), 1 - np.cos(angle)), axis=1)
    side = np.arange(-40, -radius_mm, 0.25)
    there = np.stack((side, np.zeros(len(side))), axis=1)
    back = np.stack((np.zeros(len(side)), -side[::-1]), axis=1)
    return np.concatenate((there, arc - (radius_mm, 0), back)) + np.array((0, 300))


def off_corner(radius_mm: float) -> float:
    found = straightened(one_line(turned(radius_mm)), 0.6).places
    return float(np.hypot(*(found - (0, 300)).T).min())


def test_a_corner_is_sharp_if_it_is_no_rounder_than_what_is_known() -> None:
    assert off_corner(1.0) < 0.1
    assert off_corner(2.0) < 0.1
    assert off_corner(15.0) > 6.0


def test_a_corner_may_be_rounder_between_longer_sides() -> None:
    """A map that is known to 0.6 mm turns one in a bow of 4 mm; in one of 6 there is a form."""
    assert off_corner(4.4) < 0.2
    assert off_corner(6.0) > 2.0


@pytest.mark.parametrize("gap_mm", [0.5, 2.0, 3.5])
def test_an_open_end_goes_on_to_a_ruled_line_nearby_where_much_is_straight(gap_mm: float) -> None:
    wall = np.stack((np.full(200, 50.0), 280 + np.arange(0, 50, 0.25)), axis=1)
    sill = np.stack(
        (np.arange(0, 50 - gap_mm, 0.25), np.full(len(np.arange(0, 50 - gap_mm, 0.25)), 300.0)),
        axis=1,
    )
    assert np.abs(among(RULED, sill, wall)[-1] - (50, 300)).max() < 0.01
    assert among(CURVED, sill, wall)[-1, 0] == pytest.approx(sill[-1, 0], abs=0.01)


def test_a_ruled_edge_stays_so_past_what_sticks_out() -> None:
    """As at the corner of a house whose stones stick out of it."""
    along = np.arange(0, 100, 0.25)
    out = np.where((along % 30 > 20) & (along % 30 < 24), 0.8, 0.0)
    edge = np.stack((along, 300 + out), axis=1)
    assert off_chord(among(RULED, edge)[4:-4]) < 0.1
    assert off_chord(among(CURVED, edge)[4:-4]) > 0.5


def test_short_lines_are_ruled_that_run_as_ruled_lines_around() -> None:
    """Within a degree or so, but not aslant."""
    along = np.arange(0, 12, 0.25)
    wave = 0.6 * np.sin(along * math.tau / 3)
    off = [
        off_chord(among(RULED, np.stack((along, 102 + wave + slant * along), axis=1)))
        for slant in (0.0, 0.02, 0.4)
    ]
    assert off[0] < 0.05
    assert off[1] < 0.05
    assert off[2] > 0.3


@pytest.mark.parametrize("radius_mm", [8.0, 20.0, 60.0])
def test_what_is_round_stays_round_where_much_is_straight(radius_mm: float) -> None:
    angle = np.arange(0, math.pi, 0.25 / radius_mm)
    arc = radius_mm * np.stack((np.cos(angle), np.sin(angle)), axis=1) + (0, 300)
    moved = among(RULED, arc) - arc
    assert np.hypot(*moved.T).max() < 0.3


@pytest.mark.parametrize(("turn", "ruled"), [(0.0, True), (math.pi / 2, True), (0.5, False)])
def test_where_upright_and_level_lines_are_straight_others_are_ruled(
    turn: float,
    ruled: bool,  # noqa: FBT001 - one of the cases.
) -> None:
    """A house among trees; what is as straight in a flower runs anyhow."""
    cosine, sine = math.cos(turn), math.sin(turn)
    matrix = np.array(((cosine, sine), (-sine, cosine)))
    fray, *house = (
        (way + shift) @ matrix + 200.0
        for way, shift in (
            (frayed(3, 22.0), np.array((-30.0, -150.0))),
            *((way, np.array((-50.0, -150.0))) for way in RULED[:8]),
        )
    )
    trees = [way + np.array((600.0 * at, 400.0)) for at in range(4) for way in CURVED]
    assert (off_chord(among(house + trees, fray)[2:-2]) < 0.1) == ruled


def rough(slant: float, long_mm: float = 90.0) -> np.ndarray:
    """What waves by half a millimetre, as a wooded bank does."""
    along = np.arange(0, long_mm, 0.25)
    return np.stack((along, 300 + slant * along + 0.4 * np.sin(along / 6)), axis=1)


def test_what_is_known_roughly_and_runs_aslant_alone_may_be_a_curve() -> None:
    bank = rough(0.35)
    assert off_chord(straightened(one_line(bank), 1.0).places) > 0.3
    assert off_chord(straightened(one_line(rough(0.0)), 1.0).places) < 0.1
    # An edge that is seen is straight if it is found so.
    shaken = bank[:, 0:1] * (1, 0.35) + np.random.default_rng(4).normal(0, 0.04, bank.shape)
    assert off_chord(straightened(one_line(shaken[:120]), 0.3).places) < 1e-9
    # Others that are surely straight have its direction.
    along = np.arange(0, 60, 0.25)
    roofs = [np.stack((along, 320 + 0.35 * along + 6 * at), axis=1) for at in range(2)]
    near = np.repeat((1.0, 0.1), (len(bank), 2 * len(along)))
    assert off_chord(straightened(many(bank, *roofs), near).places[: len(bank)]) < 0.1


@pytest.mark.parametrize(("crossed", "ruled"), [(False, False), (True, True)])
def test_a_wood_is_not_built_though_its_trunks_are_straight(
    crossed: bool,  # noqa: FBT001 - one of the cases.
    ruled: bool,  # noqa: FBT001 - one of the cases.
) -> None:
    """A frayed way far from the trunks, which have one direction only."""
    trunks = [way[:, ::-1] for way in RULED]
    walls = [way + np.array((200.0, 0.0)) for way in RULED] if crossed else trunks
    cosine, sine = math.cos(0.5), math.sin(0.5)
    way = frayed(3, 0.0) @ np.array(((cosine, sine), (-sine, cosine))) + 500.0
    assert (off_chord(among(trunks + walls, way)[2:-2]) < 0.1) == ruled


def test_what_is_straight_but_fans_out_is_not_built() -> None:
    """As whiskers: none has another beside it of its direction, within three degrees."""
    along = np.arange(0, 100, 0.25)[:, None]
    way = frayed(3, 0.0) @ np.array(((0.88, 0.475), (-0.475, 0.88))) + 500.0
    fan, boards = np.linspace(-1.2, 1.2, 8), np.repeat((-0.7, 0.9), 4)
    for angles, ruled in ((fan, False), (boards, True)):
        straight = [
            along * (math.cos(angle), math.sin(angle)) + (0.0, 300.0 + 5 * at)
            for at, angle in enumerate(angles)
        ]
        assert (off_chord(among([*straight, *CURVED], way)[2:-2]) < 0.1) == ruled


def test_where_all_is_built_what_hardly_frays_is_straight_though_known_roughly() -> None:
    """A kerb in a street, aslant as nothing else is; in a picture of nothing built it may bend."""
    along = np.arange(0, 45, 0.25)
    kerb = np.stack((along, 500 - 0.5 * along + 0.4 * np.sin(along / 4)), axis=1)
    walls = [way[:, ::-1] for way in RULED]
    for lines, least, most in ((RULED + walls, 0.0, 0.01), (CURVED, 0.3, 1.0)):
        whole = many(kerb, *lines)
        near = np.where(np.arange(len(whole.places)) < len(kerb), 1.0, 0.3)
        assert least <= off_chord(straightened(whole, near).places[: len(kerb)]) < most
