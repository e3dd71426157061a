"""The offer to protect faces: where a seam matters, and what it takes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.pictures.planted_faces import planted_face, reading_with
from tests.unit.layout.test_planning import blank
from worker.layout.offers.suggestions import changed
from worker.layout.planning import plan_sheets
from worker.spec.plan import Plan, Suggestion
from worker.spec.reading import Face
from worker.spec.spec import Area, Print, Seams, Spec, Support

#: On A4 six sheets: two columns of 273 mm at most, or three of 200 mm.
SIXTY_BY_FORTY = Spec(support=Support(width_mm=600, height_mm=400))
#: Two columns of upright A4 with 15 mm of slack: the seam lies from 185 to 200 mm.
TWO_COLUMNS = Spec(support=Support(width_mm=385, height_mm=270))


def plan_of(*faces: Face, spec: Spec = SIXTY_BY_FORTY) -> Plan:
    return plan_sheets(spec, replace(blank(), reading=reading_with(*faces)))


def offer(plan: Plan) -> Suggestion | None:
    found = [one for one in plan.suggestions if one.code == "protect-face"]
    assert len(found) <= 1
    return found[0] if found else None


def test_without_faces_nothing_is_offered() -> None:
    assert offer(plan_of()) is None


def test_a_face_that_no_seam_crosses_is_offered_whole_on_as_many_sheets() -> None:
    plan = plan_of(planted_face(0.16, 0.25, 0.1))
    found = offer(plan)
    assert found is not None
    assert found.change.protect == (found.faces[0].face,)
    assert found.sheet_count == plan.sheet_count == 6
    assert found.detail == (
        "A face is found in the picture. Protected, no seam and no tape lies on it, "
        "on as many sheets."
    )
    # The crop is the whole photo: shares of the picture are shares of the reference.
    box, face = planted_face(0.16, 0.25, 0.1).box, found.faces[0].face
    assert (face.left, face.top, face.width, face.height) == pytest.approx(
        (box.left, box.top, box.width, box.height)
    )


def test_a_single_sheet_has_no_seam_to_fear() -> None:
    assert offer(plan_of(planted_face(0.5, 0.5, 0.2), spec=_sized(150, 100))) is None


def test_where_the_whole_face_costs_sheets_its_eyes_are_offered() -> None:
    """The seam has 15 mm to lie in; this face is 77 mm wide and stands over it.

    Between its eyes there are some 14 mm.
    """
    plan = plan_of(planted_face(0.5, 0.5, 0.2), spec=TWO_COLUMNS)
    found = offer(plan)
    assert plan.sheet_count == 2
    assert found is not None
    assert found.change.protect == found.faces[0].eyes
    assert found.sheet_count == 2
    taken = plan_sheets(changed(TWO_COLUMNS, found.change), blank())
    assert taken.sheet_count == 2
    assert not taken.warnings or taken.warnings[0].code != "protected-area-crossed"


def test_what_eyes_cost_is_told() -> None:
    """One eye over all places of the only seam: it takes another row or column."""
    plan = plan_of(planted_face(0.56, 0.5, 0.3), spec=TWO_COLUMNS)
    found = offer(plan)
    assert found is not None
    assert found.sheet_count is not None
    assert found.sheet_count > plan.sheet_count
    assert f"lies on its eyes, on {found.sheet_count} sheets instead of 2" in found.detail
    taken = plan_sheets(changed(TWO_COLUMNS, found.change), blank())
    assert taken.sheet_count == found.sheet_count
    assert all(one.code != "protected-area-crossed" for one in taken.warnings)


def test_what_no_seam_can_spare_is_not_offered() -> None:
    """A face from edge to edge: each of its eyes is wider than a sheet."""
    assert offer(plan_of(planted_face(0.5, 0.5, 1.6, 1.6), spec=_sized(1600, 1000))) is None


@pytest.mark.parametrize("arrangement", ["aligned", "staggered"])
def test_staggered_seams_are_not_searched_again(arrangement: str) -> None:
    """Each eye of this face is 140 mm wide, so that a seam that does not look crosses one."""
    seams = Seams(arrangement=arrangement, placement="even")  # type: ignore[arg-type]
    wide = planted_face(0.5, 0.5, 0.9)
    found = offer(plan_of(wide, spec=replace(SIXTY_BY_FORTY, seams=seams)))
    assert found is not None
    if arrangement == "staggered":
        assert found.sheet_count is None
        assert found.change.protect == found.faces[0].eyes
    else:
        assert found.sheet_count is not None


def test_several_faces_are_one_offer_and_protect_together() -> None:
    faces = [planted_face(x, 0.3, 0.08) for x in (0.1, 0.34, 0.6, 0.9)]
    found = offer(plan_of(*faces))
    assert found is not None
    assert len(found.faces) == 4
    assert found.detail.startswith("4 faces are found in the picture. Protected, no seam")
    taken = plan_of(*faces, spec=changed(SIXTY_BY_FORTY, found.change))
    assert taken.sheet_count == found.sheet_count
    assert offer(taken) is None


def test_a_face_that_is_protected_by_hand_is_not_offered() -> None:
    face = planted_face(0.16, 0.25, 0.1)
    around = Area(left=0.1, top=0.15, width=0.15, height=0.2)
    # Both eyes in one area count as well.
    eyes = Area(left=0.115, top=0.22, width=0.1, height=0.04)
    elsewhere = Area(left=0.6, top=0.6, width=0.1, height=0.1)
    for area, offered in ((around, False), (eyes, False), (elsewhere, True)):
        spec = replace(SIXTY_BY_FORTY, seams=Seams(protect=(area,)))
        assert (offer(plan_of(face, spec=spec)) is not None) == offered


def test_a_face_outside_the_crop_is_not_offered() -> None:
    crop = Area(left=0.0, top=0.0, width=0.5, height=0.5)
    spec = replace(SIXTY_BY_FORTY, crop=crop)
    assert offer(plan_of(planted_face(0.8, 0.8, 0.1), spec=spec)) is None
    half = offer(plan_of(planted_face(0.49, 0.25, 0.1), spec=spec))
    assert half is not None
    face = half.faces[0].face
    assert face.left + face.width == pytest.approx(1.0)
    assert len(half.faces[0].eyes) == 1


def test_a_mirrored_print_is_offered_the_same_areas() -> None:
    """`seams.protect` is in shares of the unmirrored picture."""
    face = planted_face(0.16, 0.25, 0.1)
    plain = offer(plan_of(face))
    mirrored = offer(plan_of(face, spec=replace(SIXTY_BY_FORTY, print=Print(mirror=True))))
    assert plain is not None
    assert mirrored is not None
    assert mirrored.change == plain.change


def test_in_a_turned_crop_the_area_is_where_the_face_is_seen() -> None:
    """A quarter of a turn about the crop's middle would carry right to below; 30° carries partly.

    The content turns clockwise: what lies right of the middle goes down.
    """
    spec = replace(SIXTY_BY_FORTY, rotate_deg=30.0)
    found = offer(plan_of(planted_face(0.6, 0.5, 0.05), spec=spec))
    assert found is not None
    plan = plan_of(planted_face(0.6, 0.5, 0.05), spec=spec)
    face = found.faces[0].face
    middle = np.array([face.left + face.width / 2, face.top + face.height / 2]) - 0.5
    size = np.array([plan.crop.width * 6000, plan.crop.height * 4000])
    centre = (plan.crop.left + plan.crop.width / 2) * 6000
    off = 0.6 * 6000 - centre
    assert middle * size == pytest.approx(
        (off * np.cos(np.pi / 6), off * np.sin(np.pi / 6)), abs=1e-6
    )


def test_no_more_areas_are_offered_than_a_spec_may_have() -> None:
    faces = [planted_face(0.02 + 0.03 * x, 0.1 + 0.2 * y, 0.02) for x in range(32) for y in (0, 1)]
    own = tuple(Area(left=0.9, top=0.9, width=0.05, height=0.05) for _ in range(9))
    found = offer(plan_of(*faces, spec=replace(SIXTY_BY_FORTY, seams=Seams(protect=own))))
    assert found is not None
    assert found.change.protect is not None
    assert len(found.change.protect) + len(own) <= 50


def _sized(width: float, height: float) -> Spec:
    return Spec(support=Support(width_mm=width, height_mm=height))
