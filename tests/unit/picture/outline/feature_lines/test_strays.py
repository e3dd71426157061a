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
from worker.picture.outline.feature_lines.strays import hair_strays, strays
from worker.picture.outline.points import running_beside as module
from worker.picture.outline.points.bridging import pairs_within
from worker.picture.outline.points.chains import Chains, chains_of
from worker.picture.outline.points.edge_points import EDGE, Points

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


def hatched(wide: int, monkeypatch: pytest.MonkeyPatch) -> tuple[int, int, int]:
    """How many points lines in a face have, how many pairs of them are looked at, most at once."""
    points, chains = straight(*[round(0.3 * wide)] * round(0.03 * wide))
    points = replace(points, y=(points.y / 2).astype(np.float32))
    pairs = []

    def counted(*given: Any) -> tuple[Ints, Ints]:
        one, two = pairs_within(*given)
        pairs.append(len(one))
        return one, two

    monkeypatch.setattr(module, "pairs_within", counted)
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


#: Level lines of a face whose side is 76 mm: 25 mm above the eyes, as far below them, and below
#: the chin.
HAIR_MM, CHEEK_MM, NECK_MM = -25.0, 25.0, 60.0


def scraps(
    *lines: tuple[float, float],
    figure: float = 1.0,
    border: float = 0.0,
    likely: float = 0.5,
    closed: bool = False,
    texture: float = 0.0,
) -> list[bool]:
    """Which lines are scraps, given how far each is below the eyes and how long, in mm."""
    points, chains = straight(*(round(long / 0.25) for _, long in lines))
    below = np.concatenate([np.full(round(long / 0.25), at) for at, long in lines])
    level, middle = (below + EYES[0][1]) / 0.25, 75.0 / 0.25
    points = replace(points, x=points.x + np.float32(middle), y=level.astype(np.float32))
    chains = replace(chains, closed=np.full(len(chains), closed))
    one = features_of(marks(), placed(face()), painted())
    assert one is not None
    figures, borders, likelihoods = (
        np.full(len(points), one, np.float32) for one in (figure, border, likely)
    )
    return hair_strays(
        [one], points, chains, (figures, borders, likelihoods), texture=texture
    ).tolist()


def test_a_scrap_of_hair_is_short_for_the_face() -> None:
    assert scraps((HAIR_MM, 9.0), (HAIR_MM, 20.0), (CHEEK_MM, 9.0)) == [True, False, False]


def test_what_is_short_on_a_neck_is_none_of_it() -> None:
    assert scraps((NECK_MM, 9.0), (NECK_MM, 20.0)) == [True, False]


def test_what_bounds_a_head_is_closed_or_is_behind_is_no_scrap() -> None:
    assert scraps((HAIR_MM, 9.0), border=0.6) == [False]
    assert scraps((HAIR_MM, 9.0), closed=True) == [False]
    assert scraps((HAIR_MM, 9.0), figure=0.5) == [False]
    assert scraps((HAIR_MM, 9.0), likely=0.9) == [False]


@pytest.mark.parametrize(("texture", "scrap"), [(0.0, True), (0.2, True), (0.5, False)])
def test_where_texture_is_wanted_hair_is_drawn(texture: float, *, scrap: bool) -> None:
    assert scraps((HAIR_MM, 9.0), texture=texture) == [scrap]
