"""Irises, in eyes painted for it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.contours.test_contour_lines import (
    GRID,
    NOTHING,
    Bytes,
    placed,
    places_of_grid,
    reading,
)
from worker.picture.outline.contours.features.irises import Iris, inside, irises
from worker.picture.outline.feature_lines.eye_lines import eye_lines
from worker.spec.reading import Face, Reading
from worker.spec.spec import Area

#: Of both eyes, in mm of a picture of 150 x 112.5 mm; an iris is as wide as an eye of 40 mm has.
MIDDLES, WIDTH, RADIUS = ((50.0, 55.0), (100.0, 55.0)), 40.0, 4.4


def eyes(radius: float = RADIUS, lid: float = -2.5, glance: float = 0.0) -> Bytes:
    """Dark irises with a light in each, on white between lids, on skin; `lid` covers the top."""
    x, y = places_of_grid()
    grey = np.full(x.shape, 150.0)
    for at_x, at_y in MIDDLES:
        between = ((x - at_x) / 13) ** 2 + ((y - at_y) / 5) ** 2 < 1
        between &= y > at_y + lid
        far = np.hypot(x - at_x - glance, y - at_y)
        light = np.hypot(x - at_x - glance - 1, y - at_y) < 0.8
        white = np.where(between, 215.0, grey)
        grey = np.where(between & (far < radius), np.where(light, 250.0, 60.0), white)
    return np.rint(gaussian_filter(grey, 1.0)).astype(np.uint8)


def face() -> Reading:
    """Nothing read but a face with both eyes, whose boxes have brows as well."""
    boxes = tuple(
        Area(
            left=(x - WIDTH / 2) / 150,
            top=(y - 0.6 * 32) / 112.5,
            width=WIDTH / 150,
            height=32 / 112.5,
        )
        for x, y in MIDDLES
    )
    box = Area(left=0.1, top=0.1, width=0.8, height=0.9)
    return reading(NOTHING, faces=(Face(box=box, head=box, eyes=boxes),))


def found(grey: Bytes) -> tuple[Iris, ...]:
    return irises(placed(face()), grey, GRID)


@pytest.mark.parametrize("glance", [0.0, 3.0])
def test_an_iris_is_found_where_it_is_and_as_large(glance: float) -> None:
    both = found(eyes(glance=glance))
    assert len(both) == 2
    for iris, (x, y) in zip(both, MIDDLES, strict=True):
        assert np.hypot((iris.x + 0.5) * 0.25 - x - glance, (iris.y + 0.5) * 0.25 - y) < 0.6
        assert iris.radius * 0.25 == pytest.approx(RADIUS, rel=0.12)


def test_a_lid_covers_the_top_and_the_line_ends_there() -> None:
    grey = eyes()
    both = found(grey)
    assert [iris.covered for iris in both] == [(True, False)] * 2
    arcs = eye_lines(both, (), grey, GRID).lines
    for iris in both:
        _, y = arcs.places.T
        assert y.min() > (iris.y - 0.8 * iris.radius) * 0.25
        assert y.max() > (iris.y + 0.9 * iris.radius) * 0.25
    # What is drawn in the iris is its own line alone, but for the lid.
    one = both[0]
    x, y = np.full(2, one.x, np.float32), np.array((one.y, one.y - 0.6 * one.radius), np.float32)
    assert inside(both, x, y).tolist() == [True, False]


def test_a_wide_open_eye_has_a_whole_circle() -> None:
    grey = eyes(lid=-9.0)
    arcs = eye_lines(found(grey), (), grey, GRID).lines
    assert arcs.closed.tolist() == [True, True]


@pytest.mark.parametrize("lid", [9.0, 3.6])
def test_a_closed_eye_has_none(lid: float) -> None:
    assert found(eyes(lid=lid)) == ()


def test_eyes_that_look_apart_are_not_believed() -> None:
    left, right = eyes(glance=-5.5), eyes(glance=5.5)
    assert found(np.hstack((left[:, :300], right[:, 300:]))) == ()
