"""Hair's outline over a head, in readings made for it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.distance import cdist

from tests.unit.picture.outline.contours.features.painted_faces import EYES, marks, painted
from tests.unit.picture.outline.contours.test_contour_lines import (
    MAP_MM,
    Floats,
    band,
    placed,
    places_of_map,
    reading,
)
from tests.unit.picture.outline.given_lines import points_along
from worker.picture.outline.contours.features.face_features import features_of
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.feature_lines.hair_lines import missing_crowns
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points

#: A face is so far down that all its hair, of such a radius, is in the picture.
DOWN_MM, RADIUS_MM = 15.0, 42.0
MIDDLE_MM = (75.0, EYES[0][1] + DOWN_MM)


def around(turns: Floats, radius_mm: float = RADIUS_MM) -> Floats:
    """Places of a ring, in mm: from the left over the top for turns from 1 to 0."""
    ways = np.stack((np.cos(np.pi * turns), -np.sin(np.pi * turns)), axis=1)
    return np.asarray(MIDDLE_MM + radius_mm * ways)


def seen(faint: float = 1.0, outer: int = 255) -> FoundFace:
    """A face whose hair's outline is read, but in its middle fainter."""
    x, y = places_of_map()
    off = np.hypot(x - MIDDLE_MM[0], y - MIDDLE_MM[1]) - RADIUS_MM
    likely = np.where(np.abs(x - MIDDLE_MM[0]) < 9.0, faint, 1.0) * band(off / MAP_MM)
    read = reading(np.rint(likely).astype(np.uint8), outer=np.full(x.shape, outer, np.uint8))
    found = features_of(marks((0.0, DOWN_MM)), placed(read), painted())
    assert found is not None
    return found


def drawn(*turns: tuple[float, float], inside_mm: float = 0.0) -> tuple[Points, Chains]:
    """Lines along it, over some turns; the last so far inside."""
    ways = [around(np.linspace(*one, 150)) for one in turns]
    ways[-1] = around(np.linspace(*turns[-1], 150), RADIUS_MM - inside_mm)
    across = np.concatenate([way - MIDDLE_MM for way in ways]) / RADIUS_MM
    at = np.concatenate(ways) / 0.25 - 0.5
    return points_along(at, across, [150] * len(turns))


def off_mm(line: Floats) -> Floats:
    return np.asarray(np.abs(np.hypot(*((line + 0.5) * 0.25 - MIDDLE_MM).T) - RADIUS_MM))


def test_hair_ends_where_the_reading_has_an_outer_contour() -> None:
    crown = seen().crown
    clear = crown.seen > 0.5
    assert off_mm(crown.line[clear]).max() < 0.8
    high = MIDDLE_MM[1] - (crown.line[:, 1] + 0.5) * 0.25
    assert clear[high > 0.55 * RADIUS_MM].all()
    assert not clear[high < 0.45 * RADIUS_MM].any()


@pytest.mark.parametrize(("faint", "closed"), [(1.0, True), (0.8, True), (0.3, False)])
def test_a_gap_in_hair_is_closed_where_it_is_read(faint: float, *, closed: bool) -> None:
    lines = missing_crowns([seen(faint)], *drawn((0.95, 0.57), (0.43, 0.05)))
    assert len(lines) == int(closed)
    for line in lines:
        assert off_mm(line).max() < 0.8
        assert np.ptp(line[:, 0]) * 0.25 == pytest.approx(
            2 * RADIUS_MM * np.cos(0.43 * np.pi), abs=2.0
        )


def test_nothing_is_added_where_lines_have_it_all_or_it_is_low() -> None:
    assert missing_crowns([seen()], *drawn((0.95, 0.05))) == []
    assert missing_crowns([seen()], *drawn((0.95, 0.93), (0.87, 0.05))) == []


def test_what_bounds_nothing_is_no_outline_of_hair() -> None:
    assert missing_crowns([seen(outer=0)], *drawn((0.95, 0.57), (0.43, 0.05))) == []


def test_beside_a_curl_nothing_is_drawn() -> None:
    gap, curl = ((0.95, 0.505), (0.495, 0.05)), (0.54, 0.46)
    assert len(missing_crowns([seen()], *drawn(*gap))) == 1
    assert missing_crowns([seen()], *drawn(*gap, curl, inside_mm=0.7)) == []


@pytest.mark.parametrize(("inside_mm", "stepped"), [(1.0, True), (6.0, False)])
def test_ends_near_each_other_are_joined(inside_mm: float, *, stepped: bool) -> None:
    points, chains = drawn((0.95, 0.5), (0.5, 0.05), inside_mm=inside_mm)
    lines = missing_crowns([seen()], points, chains)
    assert len(lines) == int(stepped)
    for line in lines:
        tops = [around(np.array([0.5]), each)[0] for each in (RADIUS_MM, RADIUS_MM - inside_mm)]
        assert (line[[0, -1]] + 0.5) * 0.25 == pytest.approx(np.array(tops), abs=0.01)


def test_of_many_ends_those_are_joined_that_are_nearest_by_far() -> None:
    """Held to all distances between them, as SciPy has them."""
    rng, (face, many) = np.random.default_rng(6), (seen(), 30)
    begin, inside = np.sort(rng.uniform(0.25, 0.74, many)), rng.uniform(0, 1.5, many)
    ways = [
        around(np.linspace(turn, turn + 0.012, 20), RADIUS_MM - off)
        for turn, off in zip(begin, inside, strict=True)
    ]
    at = np.concatenate(ways) / 0.25 - 0.5
    across = (np.concatenate(ways) - MIDDLE_MM) / RADIUS_MM
    far = cdist(at, at)
    far[np.kron(np.eye(many), np.ones((20, 20))) > 0] = np.inf
    ends = (np.arange(many)[:, None] * 20 + (0, 19)).ravel()
    nearest = far[ends].min(axis=1)
    apart = far[np.ix_(ends, ends)]
    joined = (apart < 0.05 * face.crown.side) & (np.minimum.outer(nearest, nearest) > 0.6 * apart)
    one, two = np.nonzero(np.triu(joined))
    assert 5 < len(one) < many
    lines = missing_crowns([face], *points_along(at, across, [20] * many))
    for line, a, b in zip(lines, ends[one], ends[two], strict=False):
        assert line[[0, -1]] == pytest.approx(at[[a, b]], abs=1e-3)
    assert len(lines) >= len(one)
    assert [len(line) for line in lines].count(8) == len(one)
