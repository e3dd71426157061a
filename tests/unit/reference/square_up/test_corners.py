"""Four corners, as someone placed them: which is which, and which will not do."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from tests.folded import fold
from tests.pictures.cameras import View
from worker.errors import CornersUnusable
from worker.reference.square_up.corners import quad_of

PHOTO_PX = (4000, 3000)
SLANTED = [(0.2, 0.1), (0.85, 0.2), (0.9, 0.8), (0.1, 0.9)]


@fold(("order", itertools.permutations(range(4))))
def test_corners_may_come_in_any_order(order: tuple[int, ...]) -> None:
    quad = quad_of([SLANTED[index] for index in order], PHOTO_PX)
    assert np.array_equal(quad.corners_px, np.array(SLANTED) * PHOTO_PX)


#: Turned in the photo up to half-way to lying; slanted as well, less far: either way up may
#: be meant there.
TURNED = [
    *((roll_deg, (0.0, 0.0)) for roll_deg in range(-44, 45, 4)),
    *((roll_deg, tilt) for roll_deg in range(-24, 25, 8) for tilt in ((35.0, 10.0), (-20.0, 30.0))),
]


@fold(
    ("roll_deg, tilt_deg", TURNED),
    ("sheet_mm", [(210.0, 297.0), (297.0, 210.0), (600.0, 200.0)]),
)
def test_a_sheet_stays_as_it_stands_in_the_photo(
    roll_deg: float, sheet_mm: tuple[float, float], tilt_deg: tuple[float, float]
) -> None:
    view = View(sheet_mm=sheet_mm, tilt_deg=tilt_deg, roll_deg=roll_deg)
    quad = quad_of(view.corners().tolist(), view.photo_px)
    assert quad.corners_px == pytest.approx(view.corners_px(), abs=1e-6)


def test_a_wide_angle_does_not_lay_a_sheet_on_its_side() -> None:
    """By its distance to the photo's corner alone, the bottom left would be the top left."""
    far_top = [(0.45, 0.3), (0.6, 0.3), (1.0, 0.7), (0.0, 0.7)]
    assert quad_of(far_top, (3000, 3000)).corners_px[0].tolist() == [1350.0, 900.0]


def test_a_square_on_its_tip_begins_at_the_top() -> None:
    tip = [(0.5, 0.1), (0.9, 0.5), (0.5, 0.9), (0.1, 0.5)]
    assert quad_of(tip, (1000, 1000)).corners_px[0].tolist() == [500.0, 100.0]


def test_a_hair_outside_is_the_edge() -> None:
    quad = quad_of([(-1e-7, 0), (1, 0), (1, 1 + 1e-7), (0, 1)], PHOTO_PX)
    assert quad.corners_px.tolist() == [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]


@pytest.mark.parametrize(
    ("corners", "word"),
    [
        ([(0, 0), (1, 0), (1, 1)], "four"),
        ([(0, 0), (1, 0), (1, 1), (0,)], "x and y"),
        ([(0, 0), (1, 0), (1, 1), (-0.01, 1)], "outside"),
        ([(0, 0), (1, 0), (1, 1), (0, 1.01)], "outside"),
        ([(0, 0), (1, 0), (1, 1), (0, float("nan"))], "outside"),
        ([(0, 0), (1, 0), (1, 1), (0, float("inf"))], "outside"),
        ([(0, 0), (0.5, 0), (1, 0), (0.5, 1)], "line"),
        ([(0, 0), (0.33, 0.33), (0.66, 0.66), (1, 1)], "line"),
        ([(0, 0), (1, 0), (1, 1), (0.7, 0.3)], "line"),
        ([(0, 0), (1, 0), (0.6, 0.4), (0.5, 1)], "line"),
        ([(0, 0), (1, 0), (1, 1), (1, 1)], "fewer"),
        ([(0.5, 0.5)] * 4, "fewer"),
        ([(0.1, 0.1), (0.107, 0.1), (0.107, 0.9), (0.1, 0.9)], "fewer"),
        ([(0.475, 0.4), (0.525, 0.4), (1, 1), (0, 1)], "flat"),
    ],
)
def test_what_makes_no_picture_is_refused_with_the_reason(
    corners: list[tuple[float, ...]], word: str
) -> None:
    with pytest.raises(CornersUnusable, match=word) as caught:
        quad_of(corners, PHOTO_PX)
    assert (caught.value.code, caught.value.field) == ("corners-unusable", "corners")
