"""What runs beside a jaw within a painted face."""

from __future__ import annotations

import numpy as np

from tests.unit.picture.outline.contours.features.painted_faces import (
    CHEEK_MM,
    CHIN_MM,
    EYES,
    face,
    in_mm,
    marks,
    painted,
)
from tests.unit.picture.outline.contours.test_contour_lines import Floats, placed
from tests.unit.picture.outline.given_lines import points_along
from worker.picture.outline.contours.features.face_features import features_of
from worker.picture.outline.feature_lines.rim_lines import without_rims
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.spec.strokes import FORM, INNER

PLACES = 200
#: Shares of a way from ear to ear.
WHOLE = (0.2, 0.8)


def ways(*lines: tuple[float, tuple[float, float]]) -> tuple[Points, Chains]:
    """Lines within a jaw by so many mm, over some of its way."""
    turns = [np.pi * (1 - np.linspace(*share, PLACES)) for _, share in lines]
    sizes = [(CHEEK_MM - within, CHIN_MM - within) for within, _ in lines]
    places = np.concatenate(
        [
            np.stack((wide * np.cos(turn), high * np.sin(turn)), axis=1)
            for turn, (wide, high) in zip(turns, sizes, strict=True)
        ]
    )
    out = np.concatenate(
        [
            np.stack((high * np.cos(turn), wide * np.sin(turn)), axis=1)
            for turn, (wide, high) in zip(turns, sizes, strict=True)
        ]
    )
    out /= np.hypot(*out.T)[:, None]
    at = np.add(places, (75.0, EYES[0][1])) / 0.25 - 0.5
    return points_along(at, out, [PLACES] * len(lines))


def left_of(
    points: Points, chains: Chains, weight: list[int], likely: float = 0.5
) -> tuple[list[int], Floats]:
    """Which lines are left, and all places of these, in mm from between the eyes."""
    one = features_of(marks(), placed(face()), painted())
    assert one is not None
    given = np.full(len(points), likely, np.float32)
    left, of = without_rims([one], points, chains, np.array(weight, np.uint8), given)
    places = np.stack((points.x, points.y), axis=1)[left.order]
    return of.tolist(), np.stack(in_mm(places), axis=1)


def test_of_two_lines_along_a_jaw_the_outer_one_is_drawn() -> None:
    assert left_of(*ways((0.0, WHOLE), (3.5, WHOLE)), [FORM, INNER])[0] == [0]


def test_a_line_within_a_jaw_stays_where_none_is_along_it_or_a_lighter_one() -> None:
    assert left_of(*ways((3.5, WHOLE)), [INNER])[0] == [0]
    assert left_of(*ways((0.0, WHOLE), (3.5, WHOLE)), [INNER, FORM])[0] == [0, 1]


def test_a_fold_further_within_stays() -> None:
    assert left_of(*ways((0.0, WHOLE), (9.0, WHOLE)), [FORM, INNER])[0] == [0, 1]


def test_a_line_is_cut_where_it_runs_along_a_jaw() -> None:
    """One that comes from far within and runs beside the jaw in its last part."""
    points, chains = ways((0.0, WHOLE), (3.5, WHOLE))
    up = np.zeros(2 * PLACES, np.float32)
    up[PLACES : PLACES + 140] = 60
    points.y[:] -= up
    of, places = left_of(points, chains, [FORM, INNER])
    assert of == [0, 1]
    assert len(places) < 2 * PLACES - 40
