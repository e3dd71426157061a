"""The default crop cuts no head where there is room, and says what it did."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from tests.pictures.planted_faces import planted_face, reading_with
from tests.unit.layout.test_planning import blank
from worker.layout.crop.crop import resolve_crop
from worker.layout.planning import plan_sheets
from worker.spec.json import dump_plan
from worker.spec.plan import FaceWithHead, Framing
from worker.spec.reading import Face
from worker.spec.spec import Area, Focus, Spec, Support

LANDSCAPE = Spec(support=Support(width_mm=600, height_mm=400))
#: An upright photo, of which 60 × 40 cm takes a strip 2667 pixels high.
UPRIGHT = (4000, 6000)


def crop_of(*faces: Face, spec: Spec = LANDSCAPE, photo: tuple[int, int] = UPRIGHT) -> Area:
    return resolve_crop(spec, *photo, faces)


def holds(crop: Area, area: Area) -> bool:
    """Whether an upright crop holds an area, on paper's own terms."""
    return (
        crop.left <= area.left + 1e-9
        and crop.top <= area.top + 1e-9
        and crop.left + crop.width >= area.left + area.width - 1e-9
        and crop.top + crop.height >= area.top + area.height - 1e-9
    )


def test_without_faces_the_crop_is_at_the_centre() -> None:
    assert crop_of().top == pytest.approx((1 - 4 / 9) / 2)


def test_a_head_at_the_top_of_a_portrait_is_whole_with_air_above() -> None:
    """The strip in the middle begins at 1667 pixels, below this sitter's hair."""
    sitter = planted_face(0.5, 0.25, 0.3, 0.2)
    crop = crop_of(sitter)
    assert holds(crop, sitter.head)
    # No farther from the centre than the air above the hair takes.
    assert crop.top == pytest.approx(sitter.head.top - 0.12 * sitter.head.height)
    assert (crop.left, crop.width) == pytest.approx((0.0, 1.0))


def test_a_head_that_is_whole_at_the_centre_moves_nothing() -> None:
    assert crop_of(planted_face(0.5, 0.5, 0.2)) == crop_of()


def test_a_head_at_the_photos_own_edge_has_no_air_to_be_had() -> None:
    sitter = planted_face(0.5, 0.1, 0.3, 0.2)
    assert sitter.head.top == 0.0
    assert crop_of(sitter).top == 0.0


def test_two_heads_at_the_edges_are_both_whole_where_they_fit_without_air() -> None:
    """From 0.30 to 0.73 they take 0.43 of the height; the crop has 0.444."""
    above, below = planted_face(0.3, 0.39, 0.1, 0.1), planted_face(0.7, 0.67, 0.1, 0.1)
    crop = crop_of(above, below)
    assert holds(crop, above.head)
    assert holds(crop, below.head)


def test_of_two_heads_that_do_not_fit_together_the_large_one_is_whole() -> None:
    small, large = planted_face(0.3, 0.15, 0.1, 0.07), planted_face(0.7, 0.8, 0.2, 0.14)
    crop = crop_of(large, small)
    assert holds(crop, large.head)
    assert not holds(crop, small.head)


def test_two_heads_outweigh_one_that_is_hardly_larger() -> None:
    one = planted_face(0.5, 0.12, 0.11, 0.08)
    two = (planted_face(0.3, 0.85, 0.1, 0.075), planted_face(0.7, 0.85, 0.1, 0.075))
    crop = crop_of(one, *two)
    assert all(holds(crop, face.head) for face in two)


def test_a_face_for_which_the_crop_is_too_narrow_is_in_its_middle() -> None:
    """80 × 20 cm takes a strip a quarter as high as this upright photo is wide."""
    strip = Spec(support=Support(width_mm=800, height_mm=200))
    sitter = planted_face(0.5, 0.3, 0.5, 0.35)
    crop = crop_of(sitter, spec=strip)
    assert not holds(crop, sitter.head)
    assert crop.top + crop.height / 2 == pytest.approx(0.3)


def test_a_crop_or_a_focus_that_is_given_is_left_alone() -> None:
    sitter = planted_face(0.5, 0.2, 0.3, 0.2)
    for given in (Focus(x=0.5, y=0.9), Area(left=0.0, top=0.5, width=1.0, height=4 / 9)):
        spec = replace(LANDSCAPE, crop=given)
        assert crop_of(sitter, spec=spec) == crop_of(spec=spec)


@pytest.mark.parametrize("turn", [-40.0, -12.5, 3.0, 30.0])
@pytest.mark.parametrize("photo", [UPRIGHT, (6000, 4000), (3000, 3000)])
def test_a_turned_crop_holds_the_head_too(turn: float, photo: tuple[int, int]) -> None:
    """The corners of the head, turned into the crop's own axes, lie within its sides."""
    spec = replace(LANDSCAPE, rotate_deg=turn)
    for x, y in ((0.5, 0.3), (0.35, 0.5), (0.6, 0.62)):
        sitter = planted_face(x, y, 0.08)
        crop = crop_of(sitter, spec=spec, photo=photo)
        corners = np.array(
            [
                (sitter.head.left + across, sitter.head.top + down)
                for across in (0, sitter.head.width)
                for down in (0, sitter.head.height)
            ]
        )
        centre = (crop.left + crop.width / 2, crop.top + crop.height / 2)
        px = (corners - centre) * photo
        angle = np.radians(turn)
        right = px @ (np.cos(angle), -np.sin(angle))
        down = px @ (np.sin(angle), np.cos(angle))
        inside = (np.abs(right).max() <= crop.width * photo[0] / 2 + 0.01) and (
            np.abs(down).max() <= crop.height * photo[1] / 2 + 0.01
        )
        # No place along the way that the largest crop can move would hold more.
        assert inside or not _anywhere(spec, photo, px + (np.array(centre) * photo))


def _anywhere(spec: Spec, photo: tuple[int, int], corners_px: np.ndarray) -> bool:
    """By trying: whether the largest crop holds the points at any of many places."""
    angle = np.radians(spec.rotate_deg)
    for share in np.linspace(0, 1, 201):
        crop = resolve_crop(replace(spec, crop=Focus(x=share, y=share)), *photo)
        size = np.array([crop.width * photo[0], crop.height * photo[1]])
        centre = np.array([crop.left + crop.width / 2, crop.top + crop.height / 2]) * photo
        px = corners_px - centre
        right = px @ (np.cos(angle), -np.sin(angle))
        down = px @ (np.sin(angle), np.cos(angle))
        if np.abs(right).max() <= size[0] / 2 and np.abs(down).max() <= size[1] / 2:
            return True
    return False


def test_the_plan_says_what_the_crop_does_with_heads() -> None:
    sitter, other = planted_face(0.5, 0.25, 0.3, 0.2), planted_face(0.5, 0.9, 0.05, 0.03)
    study = replace(blank(*UPRIGHT), reading=reading_with(sitter, other))
    plan = plan_sheets(LANDSCAPE, study)
    assert plan.framing == Framing(
        faces=tuple(FaceWithHead(face=one.box, head=one.head) for one in (sitter, other)),
        whole=1,
        moved=True,
    )
    assert plan.crop == crop_of(sitter, other)
    centred = replace(LANDSCAPE, crop=Focus(x=0.5, y=0.5))
    assert plan_sheets(centred, study).framing == replace(plan.framing, whole=0, moved=False)
    assert dump_plan(plan)["framing"]["faces"][0]["head"] == vars(sitter.head)
    assert json.dumps(dump_plan(plan))
