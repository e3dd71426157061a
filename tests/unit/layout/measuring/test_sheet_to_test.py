"""Which sheet is printed first and measured."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from worker.layout.measuring.sheet_to_test import cut_to_cut
from worker.layout.planning import plan_sheets
from worker.spec.plan import Plan
from worker.spec.spec import Seams, Sheet, Spec, Support, Tone, ToneStyle
from worker.spec.study import DetailLevel, ReferenceStudy

WIDE = Spec(support=Support(width_mm=1000, height_mm=700))


def study_of(thumb: np.ndarray, density: np.ndarray | None = None) -> ReferenceStudy:
    """A reference of 6000 × 4200 pixels."""
    cells = np.full((70, 100), 0.05) if density is None else density
    level = DetailLevel(density=cells.astype(np.float32), pixel_size_px=60.0)
    return ReferenceStudy(width_px=6000, height_px=4200, levels=(level,), thumb=thumb)


def sides_of(plan: Plan) -> tuple[float, float]:
    """Of the sheet that is to be tested."""
    piece = plan.piece(plan.sheet_to_test.label)
    assert piece is not None
    assert piece.page == plan.sheet_to_test.page
    return cut_to_cut(piece)


@pytest.mark.parametrize("placement", ["quiet", "even"])
def test_it_has_the_longest_lengths(placement: str) -> None:
    spec = replace(WIDE, seams=Seams(placement=placement))  # type: ignore[arg-type]
    rng = np.random.default_rng(4)
    density = rng.random((70, 100))
    plan = plan_sheets(spec, study_of(np.full((70, 100), 90, np.uint8), density))
    shortest = [min(cut_to_cut(piece)) for piece in plan.pieces]
    assert min(sides_of(plan)) == max(shortest)
    (across, down) = (check for check in plan.check_lengths if check.scope == "sheet")
    assert (across.length_mm, down.length_mm) == sides_of(plan)
    assert (across.name, down.name) == ("across", "down")


@pytest.mark.parametrize("style", ["grey", "outline"])
def test_it_shows_some_of_the_picture(style: ToneStyle) -> None:
    """White paper but for the lower right; a sheet there is tested, however long others are."""
    thumb = np.full((70, 100), 255, np.uint8)
    thumb[45:, 70:] = 20
    density = np.where(thumb < 255, 0.2, 0.0)
    spec = replace(WIDE, tone=Tone(style=style))
    plan = plan_sheets(spec, study_of(thumb, density))
    piece = plan.piece(plan.sheet_to_test.label)
    assert piece is not None
    assert piece.picture_rect_mm.right > 700
    assert piece.picture_rect_mm.bottom > 450


def test_a_blank_picture_has_one_too() -> None:
    plan = plan_sheets(WIDE, study_of(np.full((70, 100), 255, np.uint8), np.zeros((70, 100))))
    assert plan.piece(plan.sheet_to_test.label) is not None


def test_what_a_rule_cannot_judge_is_said() -> None:
    study = study_of(np.full((70, 100), 90, np.uint8))
    small = replace(WIDE, sheet=Sheet(format="iso_a5_148x210mm"))
    assert plan_sheets(WIDE, study).sheet_to_test.tells
    strict = plan_sheets(replace(small, seams=Seams(within_mm=0.4)), study)
    assert not strict.sheet_to_test.tells
    # A whole picture on its one sheet vouches for itself, however small.
    alone = Spec(support=Support(width_mm=100, height_mm=70), seams=Seams(within_mm=0.4))
    assert plan_sheets(alone, study).sheet_to_test.tells
