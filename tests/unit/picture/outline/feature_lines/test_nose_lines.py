"""What is drawn of a nose beside its line, in a painted face."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.unit.picture.outline.contours.features.painted_faces import (
    EYES,
    NOSE_MM,
    face,
    in_mm,
    marks,
    painted,
)
from tests.unit.picture.outline.contours.test_contour_lines import Floats, placed
from tests.unit.picture.outline.given_lines import PITCH_MM, along, lines_of
from worker.picture.outline.contours.features.face_features import features_of
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.feature_lines.nose_lines import with_shafts

#: The side of a shaft from beside an eye down; so far its shaft and its round part reach.
SIDE = ((-5.0, -4.0), (-3.5, 14.5))
TOP_MM, ROUND_MM = 0.0, NOSE_MM - 4.0


def seen(*, nose: bool = True) -> FoundFace:
    found = features_of(marks(), placed(face()), painted(eyes=True, nose=nose))
    assert found is not None
    return found


def left_of(
    *ways: Floats, nose: bool = True, likely: float = 1.0
) -> tuple[list[int], list[Floats]]:
    """Which of some lines, in mm from between the eyes, are left, and what of them."""
    points, lines = lines_of(*(np.add(way, (75.0, EYES[0][1])) for way in ways))
    x, y = (
        (values * (PITCH_MM / 0.25) - 0.5).astype(np.float32) for values in (points.x, points.y)
    )
    points = replace(points, x=x, y=y)
    all_likely = np.full(len(points), likely, np.float32)
    chains, of = with_shafts([seen(nose=nose)], points, lines.chains, all_likely)
    places = np.stack((points.x, points.y), axis=1)
    parts = np.split(places[chains.order], chains.first[1:-1]) if len(chains) else []
    return of.tolist(), [np.stack(in_mm(part), axis=1) for part in parts]


def wavy(way: Floats, high: float) -> Floats:
    """The same with waves of 4 mm across."""
    out = high * np.sin(np.arange(len(way)) * PITCH_MM * 2 * np.pi / 4)
    return np.asarray(way + np.stack((out, np.zeros(len(way))), axis=1))


def test_of_a_shaft_the_longest_side_is_drawn_and_no_other() -> None:
    shorter = along((4.0, -2.0), (3.0, 14.0))
    assert left_of(along(*SIDE), shorter)[0] == [0]
    assert left_of(shorter)[0] == [0]


def test_a_side_that_is_hardly_read_is_not_drawn() -> None:
    assert left_of(along(*SIDE), likely=0.8)[0] == []


def test_what_is_short_or_winds_along_a_shaft_is_gloss() -> None:
    assert left_of(along((-4.5, 0.0), (-4.0, 9.0)))[0] == []
    assert left_of(wavy(along(*SIDE), 1.5))[0] == []
    assert left_of(wavy(along(*SIDE), 0.3))[0] == [0]


def test_a_side_ends_where_a_nose_is_round() -> None:
    of, (line,) = left_of(along((-4.0, -4.0), (-1.0, NOSE_MM - 1.0)))
    assert of == [0]
    assert ROUND_MM - 3 < line[:, 1].max() < ROUND_MM + 2
    assert left_of(along((-3.0, ROUND_MM + 1), (3.0, ROUND_MM + 1)))[0] == []


def test_what_is_left_short_of_a_line_across_the_round_part_goes() -> None:
    """A line that comes out of it 3 mm beside is no wing; one that goes on is drawn."""
    y = ROUND_MM + 1
    assert left_of(along((-12.0, y), (12.0, y)))[0] == []
    assert left_of(along((-12.0, y), (40.0, y)))[0] == [0]


def test_the_shade_of_a_lip_is_no_line_and_a_moustache_is_one() -> None:
    """Above a mouth whose corners are 30 mm below the eyes, between them and beyond."""
    assert left_of(along((-6.0, 25.0), (6.0, 25.0)))[0] == []
    assert left_of(along((-22.0, 26.0), (22.0, 26.0)))[0] == [0]


def test_what_is_beside_a_nose_stays() -> None:
    """A fold of a cheek, a line across a forehead; and all where no nose is seen."""
    fold = along((-16.0, 16.0), (-19.0, 28.0))
    assert left_of(fold, along((-20.0, -20.0), (20.0, -20.0)))[0] == [0, 1]
    assert left_of(along(*SIDE), wavy(along(*SIDE), 1.5), nose=False)[0] == [0, 1]
