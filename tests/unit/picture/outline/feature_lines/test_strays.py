"""Short strokes in a face."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.unit.picture.outline.contours.features.painted_faces import EYES, face, marks, painted
from tests.unit.picture.outline.contours.test_contour_lines import placed
from worker.picture.outline.contours.features.bands import Ints
from worker.picture.outline.contours.features.face_features import features_of
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.feature_lines.strays import head_strays, strand_weights, strays
from worker.picture.outline.points import running_beside as module
from worker.picture.outline.points.chains import Chains, chains_of
from worker.picture.outline.points.edge_points import EDGE, Points
from worker.picture.outline.points.nearness import pairs_within
from worker.spec.strokes import FORM, INNER

FACE_PX = 400.0


def straight(*lengths: int) -> tuple[Points, Chains]:
    """Lines of so many pixels, one above the other."""
    count = sum(lengths)
    flat = np.zeros(count, np.float32)
    along = np.concatenate([np.arange(one) for one in lengths])
    line = np.repeat(np.arange(len(lengths)), lengths)
    at = np.arange(count)
    link = np.stack(
        (np.where(along > 0, at - 1, -1), np.where(np.append(along[1:], 0) > 0, at + 1, -1)), axis=1
    )
    points = Points(
        key=at.astype(np.int32),
        x=along.astype(np.float32),
        y=(20 * line).astype(np.float32),
        across_x=flat,
        across_y=flat + 1,
        contrast=flat,
        chroma=flat,
        kind=np.full(count, EDGE, np.uint8),
    )
    return points, chains_of(link.astype(np.int32))


def found(
    points: Points,
    chains: Chains,
    inside: np.ndarray,
    texture: float = 0.0,
    wide: float = FACE_PX,
) -> list[bool]:
    face_px = np.full(len(points), wide, np.float32)
    beside = inside.astype(np.float32)
    return strays(points, chains, beside, face_px, texture=texture).tolist()


def test_what_is_short_for_the_face_is_a_stray_and_a_fold_is_not() -> None:
    points, chains = straight(30, 120)
    assert found(points, chains, np.ones(150)) == [True, False]


def test_what_curls_up_is_a_stray_though_it_is_longer() -> None:
    """A hook of 60 pixels that reaches 20."""
    points, chains = straight(60)
    turns = np.linspace(0, 1.9 * np.pi, 60)
    x, y = (10 * one(turns) for one in (np.cos, np.sin))
    points = replace(points, x=x.astype(np.float32), y=y.astype(np.float32))
    assert found(points, chains, np.ones(60)) == [True]


def test_of_both_edges_of_a_fold_the_longer_is_drawn() -> None:
    points, chains = straight(90, 120)
    one = replace(points, y=(points.y * 0.5).astype(np.float32))
    assert found(one, chains, np.ones(210)) == [True, False]
    apart = replace(points, y=(points.y * 2).astype(np.float32))
    assert found(apart, chains, np.ones(210)) == [False, False]


def test_of_a_fold_in_a_wide_face_one_edge_is_drawn_as_well() -> None:
    points, chains = straight(900, 1200)
    one = replace(points, y=(points.y * 7).astype(np.float32))
    assert found(one, chains, np.ones(2100), wide=4000.0) == [True, False]
    apart = replace(points, y=(points.y * 11).astype(np.float32))
    assert found(apart, chains, np.ones(2100), wide=4000.0) == [False, False]


@pytest.mark.parametrize("texture", [0.99999, 1.0])
def test_where_all_texture_is_wanted_both_edges_of_a_fold_are_drawn(texture: float) -> None:
    points, chains = straight(90, 120)
    one = replace(points, y=(points.y * 0.5).astype(np.float32))
    assert found(one, chains, np.ones(210), texture) == [False, False]


def counted_pairs(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many pairs of points are looked at, at a time, from now on."""
    pairs = []

    def counted(*given: Any) -> tuple[Ints, Ints]:
        one, two = pairs_within(*given)
        pairs.append(len(one))
        return one, two

    monkeypatch.setattr(module, "pairs_within", counted)
    return pairs


def hatched(wide: int, monkeypatch: pytest.MonkeyPatch) -> tuple[int, int, int]:
    """How many points lines in a face have, how many pairs of them are looked at, most at once."""
    points, chains = straight(*[round(0.3 * wide)] * round(0.03 * wide))
    points = replace(points, y=(points.y / 2).astype(np.float32))
    pairs = counted_pairs(monkeypatch)
    assert sum(found(points, chains, np.ones(len(points)), wide=wide)) == len(chains) - 1
    return len(points), sum(pairs), max(pairs)


def test_work_grows_with_what_is_drawn_in_a_face(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twice as wide it has four times as many points, and as many more pairs of them."""
    few, few_pairs, _ = hatched(1600, monkeypatch)
    many, many_pairs, at_once = hatched(3200, monkeypatch)
    assert many / few == pytest.approx(4, rel=0.01)
    assert many_pairs / few_pairs < 1.2 * many / few
    assert at_once < many_pairs / 4


def test_what_comes_into_the_face_is_none() -> None:
    points, chains = straight(30)
    assert found(points, chains, np.arange(30) > 10) == [False]


def test_what_is_closed_is_none() -> None:
    points, chains = straight(30)
    assert found(points, replace(chains, closed=~chains.closed), np.ones(30)) == [False]


@pytest.mark.parametrize(("texture", "stray"), [(0.0, True), (0.3, True), (0.5, False)])
def test_where_texture_is_wanted_they_are_drawn(texture: float, *, stray: bool) -> None:
    points, chains = straight(30)
    assert found(points, chains, np.ones(30), texture) == [stray]


#: Level lines of a face whose side is 76 mm: 60 mm above the eyes, 25 mm below them, and below the
#: chin; and across from where they begin: at the middle, in and beside a face, at an ear.
HAIR_MM, CHEEK_MM, NECK_MM = -60.0, 25.0, 60.0
MIDDLE_MM, RIM_MM, BESIDE_MM, EAR_MM = 75.0, 102.5, 112.0, 111.0

Shares = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]


def head(*lines: tuple[float, float], across: float = MIDDLE_MM) -> tuple[Points, Chains]:
    """Lines, given how far each is below the eyes and how long, in mm."""
    points, chains = straight(*(round(long / 0.25) for _, long in lines))
    below = np.concatenate([np.full(round(long / 0.25), at) for at, long in lines])
    level, start = (below + EYES[0][1]) / 0.25, across / 0.25
    return replace(points, x=points.x + np.float32(start), y=level.astype(np.float32)), chains


def shares_of(points: Points, *values: float) -> Shares:
    one, two, three, four = (np.full(len(points), value, np.float32) for value in values)
    return one, two, three, four


def whole_face() -> FoundFace:
    one = features_of(marks(), placed(face()), painted())
    assert one is not None
    return one


def scraps(
    *lines: tuple[float, float],
    figure: float = 1.0,
    border: float = 0.0,
    likely: float = 0.5,
    outer: float = 0.2,
    across: float = MIDDLE_MM,
    closed: bool = False,
    texture: float = 0.0,
) -> list[bool]:
    """Which lines are scraps."""
    points, chains = head(*lines, across=across)
    chains = replace(chains, closed=np.full(len(chains), closed))
    shares = shares_of(points, figure, border, likely, outer)
    return head_strays([whole_face()], points, chains, shares, texture=texture).tolist()


def test_a_scrap_of_hair_is_short_for_the_face() -> None:
    """One that hangs on nothing is twice as long as one that crosses the hair's outline."""
    assert scraps((HAIR_MM, 9.0), (HAIR_MM - 9, 44.0), (CHEEK_MM - 9, 44.0)) == [True, False, False]
    assert scraps((HAIR_MM, 25.0)) == [True]
    assert scraps((HAIR_MM, 25.0), likely=0.9) == [False]


def test_folds_of_a_face_are_no_scraps_of_its_hair() -> None:
    """A bag below an eye, a fold beside a mouth: `strays` asks whether they are long enough."""
    folds = (CHEEK_MM, 12.0), (CHEEK_MM - 15, 12.0)
    assert scraps(*folds, likely=0.95) == [False, False]


def test_what_is_doubtful_between_features_is_drawn_if_it_is_long_on_paper() -> None:
    """Gloss on a cheek of a face of 76 mm; the same on paper that is twice as large."""
    lines = (CHEEK_MM, 12.0), (CHEEK_MM - 15, 20.0)
    assert scraps(*lines, likely=0.7) == [True, True]
    assert scraps(*lines, likely=0.8) == [True, False]
    assert scraps(*lines, likely=0.7, texture=0.5) == [True, False]
    one = whole_face()
    larger = replace(one, part=replace(one.part, pitch_mm=2 * one.part.pitch_mm))
    points, chains = head(*lines)
    shares = shares_of(points, 1.0, 0.0, 0.7, 0.2)
    assert head_strays([larger], points, chains, shares, texture=0.0).tolist() == [True, False]


def test_what_hangs_on_others_is_a_scrap_only_if_it_is_shorter() -> None:
    """A line of 25 mm that ends at another, of 90 mm below it; and one that ends at two."""
    points, chains = head((HAIR_MM, 25.0), (HAIR_MM + 0.5, 90.0))
    shares = shares_of(points, 1.0, 0.0, 0.5, 0.2)
    left, right = points.x.copy(), points.x.copy()
    left[chains.owner == 1] += 25.0 / 0.25
    right[chains.owner == 1] -= 1.0
    alone = head_strays([whole_face()], replace(points, x=left + 40), chains, shares, texture=0.0)
    assert alone.tolist() == [False, False]
    both = head_strays([whole_face()], replace(points, x=right), chains, shares, texture=0.0)
    assert both.tolist() == [False, False]


def test_what_is_short_on_a_neck_is_none_of_it() -> None:
    assert scraps((NECK_MM, 9.0), (NECK_MM, 20.0)) == [True, False]


def test_what_bounds_a_head_is_closed_or_is_behind_is_no_scrap() -> None:
    for long in (9.0, 25.0):
        assert scraps((HAIR_MM, long), border=0.6) == [False]
        assert scraps((HAIR_MM, long), closed=True) == [False]
        assert scraps((HAIR_MM, long), figure=0.5) == [False]
    assert scraps((HAIR_MM, 9.0), likely=0.9) == [True]
    assert scraps((HAIR_MM, 20.0), likely=0.85, outer=0.9) == [False]


@pytest.mark.parametrize(("apart", "second"), [(2.5, True), (6.0, False)])
def test_of_two_strands_beside_each_other_the_better_is_drawn(
    apart: float, *, second: bool
) -> None:
    lines = (HAIR_MM, 28.0), (HAIR_MM + apart, 36.0)
    assert scraps(*lines, likely=0.9) == [second, False]
    assert scraps(*lines, likely=0.9, texture=0.2) == [False, False]
    assert scraps(*lines, likely=0.9, border=0.6) == [False, False]


def hatched_hair(larger: int, monkeypatch: pytest.MonkeyPatch) -> tuple[int, int, int]:
    """The same of hair above a face that is so many times as large, on a grid as much finer."""
    one = whole_face()
    part = replace(one.part, coarser=one.part.coarser * larger, start=one.part.start * larger)
    apart_mm, long_mm = 2.5 / larger, 14.0
    lines = [(HAIR_MM + apart_mm * at, long_mm * larger) for at in range(6 * larger)]
    points, chains = head(*lines)
    across = points.x + np.float32((larger - 1) * MIDDLE_MM / 0.25)
    points = replace(points, x=across, y=points.y * np.float32(larger))
    pairs = counted_pairs(monkeypatch)
    shares = shares_of(points, 1.0, 0.0, 0.9, 0.9)
    scrap = head_strays([replace(one, part=part)], points, chains, shares, texture=0.0)
    assert scrap.sum() == len(chains) - 1
    return len(points), sum(pairs), max(pairs)


def test_work_grows_with_what_is_drawn_in_hair(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twice as large it has four times as many points, and as many more pairs of them."""
    few, few_pairs, _ = hatched_hair(5, monkeypatch)
    many, many_pairs, at_once = hatched_hair(10, monkeypatch)
    assert many / few == pytest.approx(4, rel=0.01)
    assert many_pairs / few_pairs < 1.2 * many / few
    assert at_once < many_pairs / 2


def test_a_short_line_at_a_face_s_side_is_a_scrap() -> None:
    """Beside what is looked at for folds: a rim of light along a cheek."""
    assert scraps((10.0, 5.0), across=RIM_MM, likely=0.95) == [True]
    assert scraps((10.0, 7.5), across=RIM_MM - 2, likely=0.95) == [False]


def test_an_ear_has_short_lines() -> None:
    assert scraps((4.0, 9.0), across=EAR_MM) == [False]
    assert scraps((CHEEK_MM, 9.0), across=BESIDE_MM) == [True]


@pytest.mark.parametrize(("texture", "scrap"), [(0.0, True), (0.2, True), (0.5, False)])
def test_where_texture_is_wanted_hair_is_drawn(texture: float, *, scrap: bool) -> None:
    assert scraps((HAIR_MM, 20.0), texture=texture) == [scrap]


def test_where_all_texture_is_wanted_nothing_is_a_scrap() -> None:
    assert scraps((HAIR_MM, 2.0), likely=0.0, texture=1.0) == [False]


@pytest.mark.parametrize(
    ("border", "likely", "outer", "weight"),
    [(0.0, 0.7, 0.7, INNER), (0.6, 0.7, 0.7, FORM), (0.0, 0.9, 0.9, FORM)],
)
def test_strands_within_hair_are_light(
    border: float, likely: float, outer: float, weight: int
) -> None:
    points, chains = head((HAIR_MM, 30.0), (CHEEK_MM, 30.0))
    shares = shares_of(points, 1.0, border, likely, outer)
    heavy = np.full(2, FORM, np.uint8)
    found = strand_weights([whole_face()], points, chains, shares, heavy)
    assert found.tolist() == [weight, FORM]
