"""Where hair begins, in painted faces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.contours.features.painted_faces import (
    CHEEK_MM,
    CHIN_MM,
    EYES,
    HAIR,
    OFF,
    SIDE,
    SKIN,
    face,
    in_colour,
    in_mm,
    marks,
)
from tests.unit.picture.outline.contours.test_contour_lines import Floats, placed, places_of_grid
from tests.unit.picture.outline.given_lines import points_along
from worker.picture.outline.contours.features.face_features import features_of
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.feature_lines.hair_lines import missing_hairlines
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points

#: Hair begins so far above landmarks; between these turns about the middle of the eyes all of a
#: line has it.
ABOVE_MM, WHOLE = 4.0, (0.88, 0.12)


def above(turns: Floats) -> Floats:
    """Places where hair begins, in mm from between the eyes."""
    high = SIDE - CHIN_MM + ABOVE_MM
    wide = CHEEK_MM + ABOVE_MM
    return np.stack((wide * np.cos(np.pi * turns), -high * np.sin(np.pi * turns)), axis=1)


def seen(hair: tuple[int, int, int] = HAIR, off: tuple[float, float] = (0.0, 0.0)) -> FoundFace:
    x, y = places_of_grid()
    across, down = x - 75.0, y - EYES[0][1]
    far = np.hypot(across / (CHEEK_MM + ABOVE_MM), down / (SIDE - CHIN_MM + ABOVE_MM))
    colours = np.where(((far > 1) & (down < 0))[..., None], hair, SKIN).astype(np.float64)
    found = features_of(marks(off), placed(face()), in_colour(colours))
    assert found is not None
    return found


def drawn(*turns: tuple[float, float]) -> tuple[Points, Chains]:
    """Lines along where hair begins, over some turns."""
    each = [np.linspace(*one, 150) for one in turns]
    ways = [above(one) for one in each]
    across = np.concatenate([np.gradient(way, axis=0)[:, ::-1] * (-1, 1) for way in ways])
    across /= np.hypot(*across.T)[:, None]
    at = np.add(np.concatenate(ways), (75.0, EYES[0][1])) / 0.25 - 0.5
    return points_along(at, across, [150] * len(turns))


def off_mm(line: Floats) -> Floats:
    """How far each place is from where hair begins."""
    places = np.stack(in_mm(line), axis=1)
    known = above(np.linspace(0, 1, 2000))
    return np.asarray(np.hypot(*(places[:, None] - known).transpose(2, 0, 1)).min(axis=1))


@pytest.mark.parametrize("off", OFF)
def test_hair_begins_where_skin_ends(off: tuple[float, float]) -> None:
    hair = seen(off=off).hairline
    # But at the temples, where it goes down beside the eyes.
    middle = slice(15, -15)
    assert off_mm(hair.line[middle]).max() < 0.8
    assert hair.seen[middle].min() > 0.5


def test_a_gap_in_a_hairline_is_closed() -> None:
    (line,) = missing_hairlines([seen()], *drawn((0.88, 0.6), (0.4, 0.12)))
    assert off_mm(line).max() < 0.8
    assert np.ptp(in_mm(line)[0]) == pytest.approx(2 * 38 * np.cos(0.4 * np.pi), abs=1.5)


def test_nothing_is_added_where_lines_have_it_all_or_hardly_any() -> None:
    assert missing_hairlines([seen()], *drawn(WHOLE)) == []
    assert missing_hairlines([seen()], *drawn((0.88, 0.82), (0.18, 0.12))) == []


def test_where_hair_is_like_skin_nothing_is_added() -> None:
    alike = (198, 160, 136)
    assert missing_hairlines([seen(alike)], *drawn((0.88, 0.6), (0.4, 0.12))) == []


def test_what_lines_have_of_a_hairline_where_it_is_not_clear_does_not_count() -> None:
    """It is clear in the gap, and half as far again, and lines have most of the rest."""
    one = seen()
    turns = np.arctan2(*(in_mm(one.hairline.line)[::-1] * np.array([[-1], [1]]))) / np.pi
    clear = np.where((turns > 0.3) & (turns < 0.6), 1, 0).astype(np.float32)
    face = replace(one, hairline=replace(one.hairline, seen=clear))
    assert missing_hairlines([face], *drawn((0.88, 0.6), (0.4, 0.12))) == []
