"""Lines that waver along a jaw, in painted faces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from scipy.spatial import cKDTree

from tests.unit.picture.outline.contours.features.painted_faces import (
    CHEEK_MM,
    EYES,
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
from tests.unit.picture.outline.given_lines import points_along
from worker.picture.outline.contours.features.face_features import features_of
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.feature_lines.jaw_lines import missing_jaws
from worker.picture.outline.feature_lines.jaw_wobble import without_wobble
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points

#: Across, in mm from the middle: a cheek, the chin, and the other cheek.
WAYS = ((-31.0, -22.0), (-21.5, 21.5), (22.0, 31.0))


def whole_face(*, read: bool = True) -> FoundFace:
    """Before something darker, with its jaw read; or of one tone with its neck, and unread."""
    x, y = places_of_grid()
    picture = painted()
    if read:
        grey = np.where(y - EYES[0][1] > jaw(x - 75.0), 110.0, picture.grey)
        soft = np.rint(gaussian_filter(grey, 1.5)).astype(np.uint8)
        picture = replace(picture, grey=soft)
    over, down = places_of_map()
    along = np.linspace(-CHEEK_MM, CHEEK_MM, 400)
    line = np.stack((along + 75.0, jaw(along) + EYES[0][1]), axis=1)
    far = cKDTree(line).query(np.stack((over, down), axis=-1))[0] / MAP_MM
    reading = replace(face(), contour=band(far)) if read else face()
    found = features_of(marks(), placed(reading), picture)
    assert found is not None
    return found


def along_jaw(wave_mm: float) -> tuple[Points, Chains]:
    """Three lines along a jaw, of which that on the chin goes to and fro by so much."""
    places, ways = [], []
    for number, (start, end) in enumerate(WAYS):
        fine = np.linspace(start, end, 4000)
        line = np.stack((fine, jaw(fine)), axis=1)
        steps = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
        at = np.arange(0.0, steps[-1], 0.25)
        across = np.interp(at, steps, fine)
        normal = np.stack((jaw(across) / 50.0**2, across / CHEEK_MM**2), axis=1)[:, ::-1]
        normal /= np.hypot(*normal.T)[:, None]
        off = wave_mm * np.sin(2 * np.pi * at / 5.0) if number == 1 else np.zeros(len(at))
        places.append(np.stack((across, jaw(across)), axis=1) + off[:, None] * normal)
        ways.append(normal)
    grid = np.add(np.concatenate(places), (75.0, EYES[0][1])) / 0.25 - 0.5
    return points_along(grid, np.concatenate(ways), [len(one) for one in places])


def both(ones: Points, others: Points) -> Points:
    """Points and others after them."""
    x, y, across_x, across_y = (
        np.concatenate([getattr(each, name) for each in (ones, others)])
        for name in ("x", "y", "across_x", "across_y")
    )
    places, across = np.stack((x, y), axis=1), np.stack((across_x, across_y), axis=1)
    return points_along(places, across, [len(x)])[0]


def below_chin(line: Floats) -> Floats:
    """How far places are from the jaw that was painted, down."""
    across, down = in_mm(line)
    return np.abs(down - jaw(across))


@pytest.mark.parametrize(("wave_mm", "left"), [(0.0, [0, 1, 2]), (0.03, [0, 1, 2]), (0.8, [0, 2])])
def test_what_wavers_gives_way_to_the_jaw_and_a_sweep_stays(
    wave_mm: float, left: list[int]
) -> None:
    one, (points, chains) = whole_face(), along_jaw(wave_mm)
    stays, of = without_wobble([one], points, chains)
    assert of.tolist() == left
    if len(left) == len(WAYS):
        assert np.array_equal(stays.order, chains.order)
        return
    (drawn,) = missing_jaws([one.jaw], points, stays)
    assert np.ptp(in_mm(drawn)[0]) > 40
    assert below_chin(drawn).max() < 1.0


def test_what_hangs_on_a_wavering_line_stays() -> None:
    """A short line on the chin ends at a point of it, and is no remnant of what is cut."""
    points, chains = along_jaw(0.8)
    chin = chains.order[(chains.first[1] + chains.first[2]) // 2]
    up = np.arange(20, 0, -1)
    places = np.stack((points.x[chin] + 0 * up, points.y[chin] - up), axis=1)
    hung, _ = points_along(places, np.tile((1.0, 0.0), (20, 1)), [20])
    own = len(points) + np.arange(20)
    whole = Chains(
        order=np.concatenate((chains.order, own, [chin])),
        first=np.append(chains.first, len(chains.order) + 21),
        closed=np.zeros(4, bool),
    )
    left, of = without_wobble([whole_face()], both(points, hung), whole)
    assert of.tolist() == [0, 2, 3]
    assert left.counts[2] == 21


def test_what_wavers_stays_where_the_jaw_is_not_seen() -> None:
    points, chains = along_jaw(0.8)
    _, of = without_wobble([whole_face(read=False)], points, chains)
    assert of.tolist() == [0, 1, 2]


def test_what_wavers_stays_where_the_jaw_would_join_nothing() -> None:
    """Without the cheeks there is nothing that the jaw's course goes on in."""
    points, chains = along_jaw(0.8)
    alone = chains.taken(np.array([False, True, False]))
    _, of = without_wobble([whole_face()], points, alone)
    assert of.tolist() == [0]


def test_a_neck_that_goes_on_in_a_wavering_chin_hangs_on_the_jaw() -> None:
    """It rises to the jaw, turns along it and wavers; what is left of it ends at the jaw."""
    points, chains = along_jaw(0.8)
    chin = chains.order[chains.first[1] : chains.first[2]]
    start = np.array((points.x[chin[0]], points.y[chin[0]]))
    up = np.arange(80, 0, -1)
    neck, _ = points_along(
        start + np.stack((0 * up, up), axis=1), np.tile((1.0, 0.0), (80, 1)), [80]
    )
    points = both(points, neck)
    order = np.insert(chains.order, chains.first[1], len(chains.order) + np.arange(80))
    first = chains.first + np.array((0, 0, 80, 80))
    whole = Chains(order=order, first=first, closed=chains.closed)
    one = whole_face()
    left, of = without_wobble([one], points, whole)
    assert of.tolist() == [0, 1, 2]
    assert 70 < left.counts[1] < 110
    drawn = np.concatenate(missing_jaws([one.jaw], points, left))
    end = left.order[left.first[2] - 1]
    assert np.hypot(*(drawn - (points.x[end], points.y[end])).T).min() * 0.25 < 1.3
