"""What is missing of jaws, in painted faces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from scipy.spatial import cKDTree

from tests.unit.picture.outline.contours.features.painted_faces import (
    CHEEK_MM,
    EYES,
    OFF,
    SIDE,
    face,
    in_mm,
    jaw,
    marks,
    painted,
)
from tests.unit.picture.outline.contours.test_contour_lines import (
    MAP_MM,
    Floats,
    band,
    placed,
    places_of_grid,
    places_of_map,
)
from worker.picture.outline.contours.features.bounds import jaws
from worker.picture.outline.contours.features.bounds.bound import Bound
from worker.picture.outline.contours.features.face_features import features_of
from worker.picture.outline.contours.features.face_part import face_part
from worker.picture.outline.feature_lines.jaw_lines import jaw_weights, missing_jaws
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import EDGE, Points
from worker.spec.strokes import FORM, INNER, PLAIN

#: A neck that is lighter is not told from the face.
UNSEEN = 170.0


def found(*, neck: float = 110.0, off: tuple[float, float] = (0.0, 0.0)) -> Bound:
    """That of a face in front of something darker, which is read; or of the same tone."""
    x, y = places_of_grid()
    picture = painted()
    behind = y - EYES[0][1] > jaw(x - 75.0)
    grey = gaussian_filter(np.where(behind, neck, 175.0), 1.5)
    picture = replace(picture, grey=np.rint(grey).astype(np.uint8))
    over, down = places_of_map()
    along = np.linspace(-CHEEK_MM, CHEEK_MM, 400)
    line = np.stack((along + 75.0, jaw(along) + EYES[0][1]), axis=1)
    far = cKDTree(line).query(np.stack((over, down), axis=-1))[0] / MAP_MM
    read = face() if neck > UNSEEN else replace(face(), contour=band(far))
    return jaws.jaw(face_part(marks(off), picture), placed(read))


def drawn(*ends: tuple[float, float]) -> tuple[Points, Chains]:
    """Lines along a jaw, between places across."""
    across = np.concatenate([np.linspace(*each, 120) for each in ends])
    x, y = (across + 75.0) / 0.25 - 0.5, (jaw(across) + EYES[0][1]) / 0.25 - 0.5
    nothing = np.zeros(len(x), np.float32)
    points = Points(
        key=np.arange(len(x), dtype=np.int32),
        x=x.astype(np.float32),
        y=y.astype(np.float32),
        across_x=nothing,
        across_y=nothing,
        contrast=nothing,
        chroma=nothing,
        kind=np.full(len(x), EDGE, np.uint8),
    )
    first = np.arange(len(ends) + 1) * 120
    return points, Chains(
        order=np.arange(len(x)), first=first, closed=np.zeros(len(ends), np.bool_)
    )


def across_of(points: Points) -> Floats:
    return np.asarray((points.x + 0.5) * 0.25 - 75.0)


def off_mm(line: Floats) -> float:
    """How far places are from the jaw that was painted, at the most."""
    along = np.linspace(-CHEEK_MM, CHEEK_MM, 4000)
    across, down = in_mm(line)
    return float(np.hypot(across[:, None] - along, down[:, None] - jaw(along)).min(axis=1).max())


@pytest.mark.parametrize("off", OFF)
def test_a_jaw_is_found_where_it_is(off: tuple[float, float]) -> None:
    one = found(off=off)
    assert one.side * 0.25 == pytest.approx(SIDE)
    # But at its ends, where the landmarks are off along it.
    assert off_mm(one.line[5:-5]) < 0.5
    assert one.seen.min() > 0.3


def test_a_gap_is_closed_from_line_to_line() -> None:
    points, chains = drawn((-30, -8), (9, 30))
    (line,) = missing_jaws((found(),), points, chains)
    assert off_mm(line) < 0.5
    across = np.sort(in_mm(line)[0][[0, -1]])
    assert across == pytest.approx([-8, 9], abs=1.0)


def test_nothing_is_added_where_a_line_is_or_where_nothing_is_seen() -> None:
    assert missing_jaws((found(),), *drawn((-33.9, 33.9))) == []
    assert missing_jaws((found(neck=UNSEEN + 2.0),), *drawn((-30, -8), (9, 30))) == []


def test_nothing_is_added_beside_a_line() -> None:
    """One that leaves the jaw by 1.5 mm for a while; and two that overlap so far below it."""
    points, chains = drawn((-33.9, 33.9))
    away = 6 * np.exp(-((across_of(points) / 5) ** 2))
    hollow = replace(points, y=(points.y - away).astype(np.float32))
    assert missing_jaws((found(),), hollow, chains) == []
    points, chains = drawn((-33.9, 5), (-5, 33.9))
    away = np.where(np.abs(across_of(points)) < 12, 6, 0)
    lower = replace(points, y=(points.y + away).astype(np.float32))
    assert missing_jaws((found(),), lower, chains) == []


def test_a_line_that_ends_nowhere_is_not_begun() -> None:
    assert missing_jaws((found(),), *drawn((-30, -8))) == []


def test_what_runs_along_a_jaw_is_no_fold() -> None:
    """One along it, the same 8 mm above it, and one that leaves it half way; and outlines."""
    one = features_of(marks(), placed(face()), painted())
    assert one is not None
    points, chains = drawn((-30, -8), (-8, 8), (8, 30))
    away = np.repeat((0.0, 32.0, 0.0), 120)
    away[240:] = np.where(np.arange(120) < 60, 0, 32)
    lines = replace(points, y=(points.y - away).astype(np.float32))
    for given, expected in ((INNER, [PLAIN, INNER, INNER]), (FORM, [FORM] * 3)):
        weight = jaw_weights([one], lines, chains, np.full(3, given, np.uint8))
        assert weight.tolist() == expected
    light = np.full(3, INNER, np.uint8)
    assert jaw_weights([], lines, chains, light).tolist() == light.tolist()
