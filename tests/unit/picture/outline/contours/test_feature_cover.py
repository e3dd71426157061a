"""What of other lines features replace, in painted faces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.unit.picture.outline.contours.features.painted_faces import EYES, face, marks, painted
from tests.unit.picture.outline.contours.test_contour_lines import SURE, placed
from worker.picture.outline.contours.feature_cover import places_replaced, points_replaced
from worker.picture.outline.contours.features.face_features import FaceFeatures, features_of
from worker.picture.outline.contours.ridge_places import Places
from worker.picture.outline.contours.round_forms.forms import RoundForms
from worker.picture.outline.points.edge_points import EDGE, Points


def features(*, lids: bool = False) -> FaceFeatures:
    found = features_of(marks(), placed(face()), painted(eyes=lids))
    assert found is not None
    assert bool(found.eyes) is lids
    return FaceFeatures(faces=(found,))


def line(start: tuple[float, float], stop: tuple[float, float]) -> tuple[Points, np.ndarray]:
    """Points of a straight line, in mm from between the eyes, with their neighbours."""
    count = 80
    x, y = np.add(np.linspace(start, stop, count), (75.0, EYES[0][1])).T.astype(np.float32) / 0.25
    way = np.subtract(stop, start) / np.hypot(*np.subtract(stop, start))
    nothing = np.zeros(count, np.float32)
    points = Points(
        key=np.arange(count, dtype=np.int32),
        x=x,
        y=y,
        across_x=np.full(count, -way[1], np.float32),
        across_y=np.full(count, way[0], np.float32),
        contrast=nothing,
        chroma=nothing,
        kind=np.full(count, EDGE, np.uint8),
    )
    at = np.arange(count, dtype=np.int32)
    return points, np.stack((at - 1, np.where(at == count - 1, -1, at + 1)), axis=1)


def replaced(
    start: tuple[float, float],
    stop: tuple[float, float],
    *,
    lids: bool = False,
    outer: bool = False,
) -> float:
    """The share of a line that goes; of points and of places along ridges it is the same."""
    points, link = line(start, stop)
    laid = placed(replace(face(), contour=SURE, outer=SURE) if outer else face())
    gone = points_replaced(features(lids=lids), RoundForms(), laid, points, link)
    places = Places(
        x=points.x,
        y=points.y,
        nx=points.across_x,
        ny=points.across_y,
        line=np.zeros(len(points), np.int64),
        closes=np.zeros(len(points), np.bool_),
    )
    assert np.array_equal(gone, places_replaced(features(lids=lids), RoundForms(), laid, places))
    return float(gone.mean())


def test_lines_of_a_mouth_go() -> None:
    assert replaced((-13, 30), (13, 30)) == 1
    # From its corner on it is a fold of the cheek.
    assert 0.3 < replaced((0, 33), (35, 33)) < 0.7


def test_what_passes_a_mouth_or_a_brow_stays() -> None:
    assert replaced((10, 0), (10, 75)) == 0
    assert replaced((-24, -40), (-24, 20)) == 0


def test_shade_of_a_socket_goes_where_both_brow_and_lids_are_known() -> None:
    assert replaced((-8, -3), (-8, 8)) == 0
    assert replaced((-8, -3), (-8, 8), lids=True) > 0.9
    # Not what bounds the face, nor the nose.
    assert replaced((-8, -3), (-8, 8), lids=True, outer=True) < 0.5
    assert replaced((-3.5, -6), (-3.5, 12), lids=True) == 0
    # What runs across is a fold or a bag below the eye.
    assert replaced((-22, 7), (-8, 7), lids=True) == 0
