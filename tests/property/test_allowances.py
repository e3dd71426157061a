"""Sheets that each pass the printing check can be joined to pass the joining check."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.property.test_layout import planned, specs
from worker.layout.measuring.allowances import READING_ERROR_MM, SEAM_LAID_MM, Allowances
from worker.layout.measuring.sheet_to_test import cut_to_cut
from worker.spec.plan import Piece
from worker.spec.spec import Spec

often = settings(max_examples=60, deadline=None)
#: How far within what is allowed, each way: at its limit, or anywhere between.
shares = st.one_of(st.sampled_from([-1.0, 1.0]), st.floats(-1, 1))


def printed_mm(piece: Piece, ways: tuple[float, float]) -> tuple[float, float]:
    """Width and height that a piece has in print, by what the printer does across and down."""
    across, down = ways
    rect = piece.picture_rect_mm
    own = (down, across) if piece.turned_deg else (across, down)
    width = (rect.width - piece.lap_right_mm) * own[0]
    return width, (rect.height - piece.lap_bottom_mm) * own[1]


@often
@given(specs, st.floats(0.25, 6), shares, shares)
def test_a_printer_that_passes_on_the_test_sheet_passes_when_joined(
    spec: Spec, within_mm: float, across: float, down: float
) -> None:
    """One printer errs by the same shares on every sheet, so the seams laid true add nothing."""
    plan = planned(replace(spec, seams=replace(spec.seams, within_mm=within_mm)))
    assume(plan.sheet_to_test.tells)
    sheet = [check for check in plan.check_lengths if check.scope == "sheet"]
    ways = tuple(
        1 + share * check.tolerance_mm / check.length_mm
        for share, check in zip((across, down), sheet, strict=True)
    )
    sizes = {piece.label: printed_mm(piece, (ways[0], ways[1])) for piece in plan.pieces}
    top = sum(sizes[piece.label][0] for piece in plan.pieces if piece.row == 0)
    left = sum(sizes[piece.label][1] for piece in plan.pieces if piece.column == 0)
    width, height = plan.check_lengths[:2]
    assert abs(top - width.length_mm) <= width.tolerance_mm + 1e-6
    assert abs(left - height.length_mm) <= height.tolerance_mm + 1e-6


@often
@given(
    st.lists(st.tuples(st.floats(40, 400), shares), min_size=1, max_size=12),
    st.floats(0.25, 6),
)
def test_sheets_that_each_pass_add_up_to_what_passes(
    sheets: list[tuple[float, float]], within_mm: float
) -> None:
    """Also where every sheet errs in its own way; of what a rule shows, not of what it hides."""
    allowances = Allowances(within_mm=within_mm)
    lengths = [length for length, _ in sheets]
    # Below a quarter of a millimetre a rule shows nothing, and no sheet is judged.
    assume(all(within_mm / 600 * length >= READING_ERROR_MM for length in lengths))
    off = sum(share * allowances.off_mm(length) for length, share in sheets)
    assert abs(off) <= allowances.off_mm(sum(lengths), len(sheets) - 1) + 1e-9


@often
@given(st.floats(20, 10_000), st.integers(0, 40), st.floats(0.25, 6))
def test_no_length_may_be_off_by_less_for_being_longer_or_joined(
    length_mm: float, seams: int, within_mm: float
) -> None:
    allowances = Allowances(within_mm=within_mm)
    here = allowances.off_mm(length_mm, seams)
    assert here <= allowances.off_mm(length_mm + 1, seams)
    # A tenth is what rounding down and up may add.
    assert here <= allowances.off_mm(length_mm, seams + 1) <= here + SEAM_LAID_MM + 0.1 + 1e-9


@often
@given(specs)
def test_the_same_length_has_the_same_allowance_everywhere(spec: Spec) -> None:
    plan = planned(spec)
    known: dict[tuple[float, int], float] = {}
    for check in plan.check_lengths:
        place = (round(check.length_mm, 3), check.seams)
        assert abs(known.setdefault(place, check.tolerance_mm) - check.tolerance_mm) < 1e-5
    tested = plan.piece(plan.sheet_to_test.label)
    assert tested is not None
    assert [check.length_mm for check in plan.check_lengths[-2:]] == [*cut_to_cut(tested)]
