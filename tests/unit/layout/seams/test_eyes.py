"""No seam runs through an eye where slack is free; where one must, the plan warns."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from worker.layout.planning import plan_sheets
from worker.spec.plan import Plan, Rect
from worker.spec.reading import NOTHING_READ, Face
from worker.spec.spec import Area, Print, Seams, Spec, Support
from worker.spec.study import DetailLevel, PictureFrame, ReferenceStudy

WHOLE = Area(left=0, top=0, width=1, height=1)
#: A4 with 5 mm margins carries pieces of this width, and 273 mm high.
WIDE_MM = 200.0
#: 600 × 400 mm takes six sheets, which leave no slack across if they stand (seams at 200 and at
#: 400 mm) and none down if they lie: of these eyes one or the other is cut.
NO_WAY = (
    Area(left=0.30, top=0.2, width=0.07, height=0.07),
    Area(left=0.8, top=0.46, width=0.07, height=0.08),
)
CODE = "seam-through-eye"


def study(*eyes: Area, busy: tuple[float, float] | None = None) -> ReferenceStudy:
    """A reference with eyes; line everywhere but within `busy`, shares of the width, if given."""
    density = np.full((400, 600), 0.01, np.float32)
    if busy:
        density[:] = 2.0
        density[:, round(busy[0] * 600) : round(busy[1] * 600)] = 0.0
    return ReferenceStudy(
        width_px=6000,
        height_px=4000,
        levels=(DetailLevel(density=density, pixel_size_px=2.5),),
        thumb=np.full((40, 60), 128, np.uint8),
        reading=replace(NOTHING_READ, faces=(Face(box=WHOLE, head=WHOLE, eyes=eyes),)),
    )


def eye_at(x: float, y: float, width: float = 0.06, height: float = 0.05) -> Area:
    return Area(left=x - width / 2, top=y - height / 2, width=width, height=height)


def cut(plan: Plan, eyes: tuple[Area, ...], *, mirror: bool = False) -> int:
    """How many eyes a seam runs through, of an uncropped picture."""
    rects = [
        Rect(
            (1 - eye.left - eye.width if mirror else eye.left) * plan.picture.width_mm,
            eye.top * plan.picture.height_mm,
            eye.width * plan.picture.width_mm,
            eye.height * plan.picture.height_mm,
        )
        for eye in eyes
    ]
    return sum(
        any(
            seam.from_mm[0] < rect.right - 1e-6
            and seam.to_mm[0] > rect.left + 1e-6
            and seam.from_mm[1] < rect.bottom - 1e-6
            and seam.to_mm[1] > rect.top + 1e-6
            for seam in plan.seams
        )
        for rect in rects
    )


def warned(plan: Plan) -> bool:
    return CODE in {warning.code for warning in plan.warnings}


@pytest.mark.parametrize("arrangement", ["aligned", "staggered"])
@pytest.mark.parametrize("lap_mm", [0.0, 8.0])
@pytest.mark.parametrize("mirror", [False, True])
def test_no_seam_takes_an_eye_where_slack_is_free(
    arrangement: Any, lap_mm: float, *, mirror: bool
) -> None:
    """Six sheets with 24 to 40 mm of slack across; the eyes lie where seams would run."""
    eyes = (eye_at(0.35, 0.4), eye_at(0.37, 0.47), eye_at(0.62, 0.51))
    spec = Spec(
        support=Support(width_mm=560, height_mm=373),
        seams=Seams(arrangement=arrangement, joint="lap" if lap_mm else "butt", lap_mm=lap_mm),
        print=Print(mirror=mirror),
    )
    # The place with the least line by far is just where an eye is.
    seen, blind = (plan_sheets(spec, study(*some, busy=(0.33, 0.37))) for some in (eyes, ()))
    assert cut(blind, eyes, mirror=mirror) > 0
    assert cut(seen, eyes, mirror=mirror) == 0
    assert seen.sheet_count == blind.sheet_count
    assert not warned(seen)


def test_a_seam_that_cannot_but_take_an_eye_is_warned_of() -> None:
    plan = plan_sheets(Spec(support=Support(width_mm=600, height_mm=400)), study(*NO_WAY))
    assert cut(plan, NO_WAY) == 1
    (warning,) = (one for one in plan.warnings if one.code == CODE)
    assert "Protect the face" in warning.detail
    assert plan.sheet_count == 6


def test_even_seams_do_not_look_and_are_warned_of_with_what_helps() -> None:
    spec = Spec(support=Support(width_mm=360, height_mm=240), seams=Seams(placement="even"))
    even = plan_sheets(spec, study(eye_at(0.5, 0.3)))
    (warning,) = (one for one in even.warnings if one.code == CODE)
    assert "quiet" in warning.detail
    quiet = plan_sheets(replace(spec, seams=Seams()), study(eye_at(0.5, 0.3)))
    assert not warned(quiet)


def test_a_protected_area_comes_before_any_eye() -> None:
    """The free place is protected: the seam takes the eye, and nothing protected."""
    protect = (
        Area(left=0.40, top=0.0, width=0.09, height=1.0),
        Area(left=0.51, top=0.0, width=0.09, height=1.0),
    )
    eyes = (eye_at(0.5, 0.5, 0.08, 0.9),)
    spec = Spec(support=Support(width_mm=360, height_mm=240), seams=Seams(protect=protect))
    plan = plan_sheets(spec, study(*eyes), max_sheets=2)
    assert [warning.code for warning in plan.warnings] == [CODE]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    width_mm=st.integers(210, 396),
    eyes=st.lists(
        st.tuples(st.floats(0.1, 0.9), st.floats(0.2, 0.8), st.floats(0.02, 0.3)),
        min_size=1,
        max_size=4,
    ),
)
def test_of_two_pieces_the_seam_is_held_against_every_place_it_might_have(
    width_mm: int, eyes: list[tuple[float, float, float]]
) -> None:
    """As few eyes are cut as at the best whole millimetre, and the plan warns if it is any."""
    found = tuple(eye_at(x, y, min(width, 2 * x, 2 * (1 - x)), 0.1) for x, y, width in eyes)
    support = Support(width_mm=width_mm, height_mm=260)
    spec = Spec(support=support, crop=WHOLE)
    one = replace(study(*found), width_px=width_mm * 10, height_px=2600)
    plan = plan_sheets(spec, one)
    assert plan.sheet_count == 2
    places = np.arange(max(width_mm - WIDE_MM, 40), min(WIDE_MM, width_mm - 40) + 1)
    edges = [(eye.left * width_mm, (eye.left + eye.width) * width_mm) for eye in found]
    fewest = min(sum(left < at < right for left, right in edges) for at in places)
    got = cut(plan, found)
    assert got <= fewest
    assert warned(plan) is (got > 0)


def test_tape_lies_beside_an_eye_that_a_seam_takes() -> None:
    plan = plan_sheets(Spec(support=Support(width_mm=600, height_mm=400)), study(*NO_WAY))
    (eye,) = (one for one in NO_WAY if cut(plan, (one,)))
    rect = Rect(eye.left * 600, eye.top * 400, eye.width * 600, eye.height * 400)
    for spot in plan.tape_spots:
        bit = spot.rect_mm
        apart = (
            bit.right <= rect.left
            or bit.left >= rect.right
            or bit.bottom <= rect.top
            or bit.top >= rect.bottom
        )
        assert apart or spot.at_junction


def test_eyes_outside_the_crop_count_nothing() -> None:
    spec = Spec(
        support=Support(width_mm=600, height_mm=400),
        crop=Area(left=0.5, top=0.5, width=0.5, height=0.5),
    )
    outside = plan_sheets(spec, study(eye_at(0.2, 0.2), eye_at(0.35, 0.75)))
    assert not warned(outside)
    inside = tuple(
        Area(
            left=0.5 + eye.left / 2,
            top=0.5 + eye.top / 2,
            width=eye.width / 2,
            height=eye.height / 2,
        )
        for eye in NO_WAY
    )
    assert warned(plan_sheets(spec, study(*inside)))


def test_the_box_of_an_area_is_that_of_its_corners() -> None:
    """A square turned by 45° reaches as far as its diagonal (Pythagoras)."""
    frame = PictureFrame(crop=WHOLE, rotate_deg=45, width_mm=100, height_mm=100, mirror=False)
    left, top, right, bottom = frame.box_of(eye_at(0.5, 0.5, 0.2, 0.2), 1000, 1000)
    assert right - left == pytest.approx(20 * 2**0.5)
    assert (left + right) / 2 == pytest.approx(50)
    assert bottom - top == pytest.approx(20 * 2**0.5)
    assert all(low < high for low, high in pairwise((0, left, right, 100)))


def test_the_box_is_cut_at_the_pictures_edges_unless_asked_for_uncut() -> None:
    crop = Area(left=0.5, top=0.0, width=0.5, height=1.0)
    frame = PictureFrame(crop=crop, rotate_deg=0, width_mm=100, height_mm=200, mirror=False)
    # 0.4 to 0.6 of the reference's width, of which the crop shows the right half, 100 mm wide.
    over_the_edge = Area(left=0.4, top=0.45, width=0.2, height=0.1)
    assert frame.uncut_box_of(over_the_edge, 1000, 1000) == pytest.approx((-20, 90, 20, 110))
    assert frame.box_of(over_the_edge, 1000, 1000) == pytest.approx((0, 90, 20, 110))
