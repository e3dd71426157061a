"""What would save sheets, as a table of worked cases; the sums stand beside them."""

from __future__ import annotations

from typing import Any

import pytest

from tests.unit.layout.test_planning import SAFE, blank
from worker.layout.offers.suggestions import changed
from worker.layout.planning import plan_sheets
from worker.spec.formats import doubled_format, sheet_format
from worker.spec.plan import Change
from worker.spec.spec import Area, Margins, Print, Seams, Sheet, Spec, Support

SIXTY_BY_FORTY = Support(width_mm=600, height_mm=400)
#: A3 carries 287 × 396 mm within margins of 5 mm.
A3 = Change(format="iso_a3_297x420mm")


def told(spec: Spec) -> dict[Change, int]:
    """Each change with the sheets that it takes."""
    return {one.change: one.sheet_count for one in plan_sheets(spec, blank()).suggestions}


def margins(mm: float) -> Sheet:
    return Sheet(margin_mm=Margins(top=mm, right=mm, bottom=mm, left=mm))


def test_sixty_by_forty_on_a4_has_nothing_but_larger_sheets() -> None:
    """Three turned pieces of 200 mm and two of 273: it is as full as it can be."""
    assert told(Spec(support=SIXTY_BY_FORTY)) == {A3: 4}


def test_a_correction_within_the_error_of_reading_costs_two_sheets() -> None:
    """200 mm / 1.0004 carry 199.92: a fourth column of a few tenths of a millimetre."""
    corrected = Print(across_correction=1.0004)
    assert plan_sheets(Spec(support=SIXTY_BY_FORTY, print=corrected), blank()).sheet_count == 8
    assert told(Spec(support=SIXTY_BY_FORTY, print=corrected)) == {
        Change(across_correction=1.0): 6,
        # (210 - 2 × 4.9) / 1.0004 = 200.12 mm.
        Change(margin_mm=4.9): 6,
        # 3 × 199.92 = 599.76 mm.
        Change(width_mm=599.0, height_mm=400): 6,
        # Two turned rows of 199.92 mm.
        Change(width_mm=600, height_mm=399.0): 6,
        Change(arrangement="staggered"): 7,
        A3: 4,
    }


def test_a_correction_that_was_read_is_not_left_away() -> None:
    """Half a millimetre on 200 mm is the error; 1.003 corrects more than that."""
    changes = told(Spec(support=SIXTY_BY_FORTY, print=Print(across_correction=1.003)))
    assert not any(change.across_correction for change in changes)
    # (210 - 2 × 4.7) / 1.003 = 200.0 mm.
    assert changes[Change(margin_mm=4.7)] == 6


def test_half_a_millimetre_of_margin_is_told() -> None:
    """210 - 2 × 5.5 = 199 mm carry a third of 597, not of 600."""
    changes = told(Spec(support=SIXTY_BY_FORTY, sheet=margins(5.5)))
    assert changes[Change(margin_mm=5.0)] == 6
    assert changes[Change(width_mm=597.0, height_mm=400)] == 6
    assert changes[Change(width_mm=600, height_mm=398.0)] == 6


def test_margins_go_no_further_than_a_printer_can() -> None:
    assert Change(margin_mm=5.0) not in told(Spec(support=SIXTY_BY_FORTY, sheet=margins(6.5)))
    narrow = Spec(support=Support(width_mm=205, height_mm=100), sheet=margins(3.2))
    assert not any(change.margin_mm for change in told(narrow))


def test_a_side_a_little_shorter_is_told_with_both_sides() -> None:
    """Upright 4 × 2, turned 3 × 3; three upright carry 600 mm, two turned 400."""
    changes = told(Spec(support=Support(width_mm=604, height_mm=404)))
    assert changes[Change(width_mm=600.0, height_mm=404)] == 6
    assert changes[Change(width_mm=604, height_mm=400.0)] == 6


def test_a_crop_that_would_no_longer_fit_is_no_suggestion() -> None:
    """A crop may be 1 % off: 1.508 is, of 600 : 404 = 1.485, and not of 604 : 400 = 1.51."""
    crop = Area(left=0, top=0, width=1.0, height=1.5 / 1.508)
    changes = told(Spec(support=Support(width_mm=604, height_mm=404), crop=crop))
    assert Change(width_mm=600.0, height_mm=404) not in changes
    assert changes[Change(width_mm=604, height_mm=400.0)] == 6


def test_of_sides_that_go_too_far_for_the_crop_the_nearer_ones_are_told() -> None:
    """598 of 604 mm are 1.003 % less than the crop allows, 600 are not."""
    crop = Area(left=0, top=0, width=604 / 404 / 1.5, height=1.0)
    changes = told(Spec(support=Support(width_mm=604, height_mm=404), crop=crop))
    assert changes[Change(width_mm=600.0, height_mm=404)] == 6


def test_staggering_that_saves_is_told() -> None:
    """190 × 255 mm: two rows of four upright; mixed, one of four and one of three turned."""
    sheet = Sheet(margin_mm=SAFE)
    assert told(Spec(support=SIXTY_BY_FORTY, sheet=sheet))[Change(arrangement="staggered")] == 7
    staggered = Spec(support=SIXTY_BY_FORTY, sheet=sheet, seams=Seams(arrangement="staggered"))
    assert not any(change.arrangement for change in told(staggered))


def test_one_sheet_needs_no_suggestion() -> None:
    assert told(Spec(support=Support(width_mm=150, height_mm=100))) == {}


def test_protected_areas_count() -> None:
    """An area over both 200 mm from the left and from the top lets no six sheets do.

    Margins of 4.2 mm leave a slack of 4.8 mm, which does not clear its 60 × 80 mm: counted
    without it, they would seem to save two sheets.
    """
    protect = (Area(left=0.3, top=0.4, width=0.1, height=0.2),)
    spec = Spec(support=SIXTY_BY_FORTY, seams=Seams(protect=protect))
    plan = plan_sheets(spec, blank())
    assert plan.sheet_count == 8
    assert [one.change for one in plan.suggestions] == [A3]
    for one in plan.suggestions:
        assert plan_sheets(changed(spec, one.change), blank()).sheet_count == one.sheet_count


@pytest.mark.parametrize(
    ("smaller", "larger"),
    [
        # ISO 216: halves rounded down, so 2 × 148 = 296 is 297.
        ("iso_a5_148x210mm", "A4"),
        ("iso_a4_210x297mm", "A3"),
        ("na_letter_8.5x11in", "Ledger (Tabloid)"),
        ("jis_b5_182x257mm", "JIS B4"),
        ("na_legal_8.5x14in", None),
        ("iso_a2_420x594mm", None),
    ],
)
def test_the_doubled_format(smaller: str, larger: Any) -> None:
    found = doubled_format(sheet_format(smaller))
    assert (found and found.title) == larger


def test_details_say_both_counts() -> None:
    plan = plan_sheets(Spec(support=SIXTY_BY_FORTY, sheet=margins(5.5)), blank())
    details = [one.detail for one in plan.suggestions]
    assert details[0] == "Margins of 5 mm would take 6 sheets instead of 8."
    assert "A width of 597 mm, not 600, would take 6 sheets instead of 8." in details
