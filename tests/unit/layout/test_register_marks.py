"""Where register marks lie: in the quiet, and where their seam is longest."""

from dataclasses import replace

import numpy as np
import pytest

from tests.pictures.planted_faces import planted_face, reading_with
from tests.unit.layout.test_planning import blank
from worker.layout.planning import plan_sheets
from worker.spec.plan import REGISTER_MARK_MM, Plan
from worker.spec.spec import Area, Grid, Print, Seams, Spec, Support
from worker.spec.study import DetailLevel, ReferenceStudy

#: Two columns of upright A4; the seam may lie from 185 to 200 mm and is 270 mm long.
TWO_COLUMNS = Spec(support=Support(width_mm=385, height_mm=270), seams=Seams(placement="even"))


def striped(quiet: tuple[tuple[float, float], ...]) -> ReferenceStudy:
    """Line everywhere but in some stripes across, in shares of the height."""
    density = np.full((300, 400), 0.1, np.float32)
    for low, high in quiet:
        density[round(low * 300) : round(high * 300)] = 0.0
    level = DetailLevel(density=density, pixel_size_px=10.0)
    thumb = np.full((60, 80), 120, np.uint8)
    return ReferenceStudy(width_px=3850, height_px=2700, levels=(level,), thumb=thumb)


def marks_down(plan: Plan) -> list[float]:
    """How far down the marks of the only seam are."""
    (seam,) = plan.seams
    return [mark[1] for mark in seam.register_marks_mm]


def test_marks_lie_where_there_is_nothing_to_trace() -> None:
    # Each holds a bit of tape and a mark.
    stripes = ((0.08, 0.22), (0.4, 0.54), (0.75, 0.89))
    down = marks_down(plan_sheets(TWO_COLUMNS, striped(stripes)))
    half = REGISTER_MARK_MM[0] / 2
    assert len(down) == 3
    for (low, high), mark in zip(stripes, down, strict=True):
        # A cell of the detail map is under a millimetre.
        assert low * 270 - 1 <= mark - half
        assert mark + half <= high * 270 + 1


def test_a_short_seam_has_two_marks_and_each_near_an_end() -> None:
    spec = replace(TWO_COLUMNS, support=Support(width_mm=385, height_mm=140))
    plan = plan_sheets(spec, striped(((0.0, 1.0),)))
    (seam,) = plan.seams
    first, last = marks_down(plan)
    spots = [spot.rect_mm for spot in plan.tape_spots]
    length = seam.to_mm[1]
    assert first < length / 3
    assert last > length * 2 / 3
    assert all(abs(mark - (r.top + r.height / 2)) > 13.5 for mark in (first, last) for r in spots)


def test_marks_keep_off_faces_while_there_is_room() -> None:
    study = replace(blank(), reading=reading_with(planted_face(0.5, 0.45, 0.2)))
    plan = plan_sheets(TWO_COLUMNS, study)
    (offer,) = (one for one in plan.suggestions if one.code == "protect-face")
    face = offer.faces[0].face
    down = marks_down(plan)
    assert len(down) == 3
    assert not any(
        face.top * 270 < mark + 6 and mark - 6 < (face.top + face.height) * 270 for mark in down
    )


def test_marks_of_a_mirrored_print_mirror_those_of_the_plain_one() -> None:
    """The photo is alike on both halves, so that both prints are planned alike."""
    study = striped(((0.1, 0.2), (0.8, 0.9)))
    mirrored = replace(TWO_COLUMNS, print=Print(mirror=True))
    assert marks_down(plan_sheets(mirrored, study)) == marks_down(plan_sheets(TWO_COLUMNS, study))


def test_grid_lines_and_the_names_behind_them_are_avoided() -> None:
    spec = replace(TWO_COLUMNS, grid=Grid(square_mm=45))
    half = REGISTER_MARK_MM[0] / 2
    for mark in marks_down(plan_sheets(spec, striped(((0.0, 1.0),)))):
        assert half + 6 <= mark % 45 <= 45 - half


def test_what_is_protected_has_no_mark_and_no_room_means_none() -> None:
    everything = Area(left=0.0, top=0.0, width=1.0, height=1.0)
    spec = replace(TWO_COLUMNS, seams=Seams(protect=(everything,)))
    assert marks_down(plan_sheets(spec, striped(()))) == []


@pytest.mark.parametrize("joint", ["butt", "lap"])
def test_without_the_switch_there_are_none(joint: str) -> None:
    seams = Seams(register_marks=False)
    if joint == "lap":
        seams = replace(seams, joint="lap", lap_mm=8)
    plan = plan_sheets(replace(TWO_COLUMNS, seams=seams), striped(()))
    assert all(seam.register_marks_mm == () for seam in plan.seams)
