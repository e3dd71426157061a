"""From what was read off a test page to a correction, a verdict and margins."""

from __future__ import annotations

import pytest

from worker.errors import PageFitting, ReadingImplausible
from worker.layout.measuring.allowances import Allowances
from worker.layout.measuring.printer_readings import (
    bars_of,
    judge,
    margins_of_steps,
    usable_correction,
)
from worker.spec.formats import SHEET_FORMATS, sheet_format
from worker.spec.json.spec_schema import MAX_CORRECTION, MIN_CORRECTION
from worker.spec.spec import Margins

A4, A5 = sheet_format("iso_a4_210x297mm"), sheet_format("iso_a5_148x210mm")


def test_bars_are_as_long_as_the_sheet_allows() -> None:
    for sheet in SHEET_FORMATS.values():
        bars = bars_of(sheet)
        for bar_mm, side_mm in (
            (bars.across_mm, sheet.width_mm),
            (bars.down_mm, sheet.height_mm),
        ):
            assert 100 <= bar_mm <= side_mm - 10
            # Where 200 mm (8 in) do not fit, what fits is taken to a step of 20 mm.
            assert bar_mm == (203.2 if sheet.inches else 200) or side_mm - 10 - bar_mm < 20
    assert (bars_of(A4).across_mm, bars_of(A4).down_mm) == (200, 200)
    assert (bars_of(A5).across_mm, bars_of(A5).down_mm) == (120, 200)


@pytest.mark.parametrize(
    ("measured_mm", "correction", "verdict"),
    [
        # A six-hundredth of 200 mm, and a little for damp.
        (200.0, 1.0, "exact"),
        (199.7, 1.0, "exact"),
        (200.3, 1.0, "exact"),
        (199.5, 200 / 199.5, "corrected"),
        (200.5, 200 / 200.5, "corrected"),
        (199.2, 200 / 199.2, "corrected"),
        (201.2, 200 / 201.2, "corrected"),
        (196.0, 200 / 196.0, "corrected"),
        (204.0, 200 / 204.0, "corrected"),
        # What browsers and readers shrink A4 to for margins of 6 to 12 mm (common practice).
        (188.6, None, "page-fitting"),
        (194.0, None, "page-fitting"),
        (206.0, None, "page-fitting"),
        # Two pages on one sheet: A4 to A5 is 1 : √2 (ISO 216).
        (141.4, None, "page-fitting"),
        (7.87, None, "implausible"),
        (19.92, None, "implausible"),
        (100.0, None, "implausible"),
        (5059.7, None, "implausible"),
    ],
)
def test_a_reading_has_its_verdict(
    measured_mm: float, correction: float | None, verdict: str
) -> None:
    found = judge(measured_mm, 200)
    assert found.verdict == verdict
    assert found.correction == pytest.approx(correction, abs=1e-6)
    assert found.nominal_mm in {200, 150}
    assert len(found.advice) > 20


def test_a_corrected_length_is_true_again_within_the_reading_error() -> None:
    for tenths in range(1962, 2040):
        found = judge(tenths / 10, 200)
        assert found.correction is not None
        assert found.uncertainty is not None
        assert MIN_CORRECTION <= found.correction <= MAX_CORRECTION
        printed = tenths / 10 / 200
        # A rule read to half a millimetre is true to a quarter: 0.125 % of 200.
        assert printed * found.correction == pytest.approx(1, abs=Allowances().off_mm(200) / 199)
        assert found.uncertainty == pytest.approx(0.00125, rel=0.045)
        if found.verdict == "corrected":
            assert printed * found.correction == pytest.approx(1, abs=1e-6)


def test_the_inner_ticks_are_told_from_the_outer_ones() -> None:
    inner = judge(149.0, 200)
    assert (inner.nominal_mm, inner.verdict) == (150, "corrected")
    assert inner.correction == pytest.approx(150 / 149, abs=1e-6)
    # What is misread weighs more on a shorter bar.
    assert inner.uncertainty == pytest.approx(0.25 / 149 * 150 / 149, abs=1e-6)
    fitted = judge(150 * 0.955, 200)
    assert (fitted.nominal_mm, fitted.verdict) == (150, "page-fitting")
    assert "95.5 %" in fitted.advice


def test_an_end_and_a_ring_are_no_bar() -> None:
    assert "from an end to a ring" in judge(175, 200).advice
    assert "from an end to a ring" not in judge(190, 200).advice


def test_inches_are_read_on_inch_formats() -> None:
    bars = bars_of(sheet_format("na_letter_8.5x11in"))
    assert bars.across_mm == bars.down_mm == pytest.approx(203.2)
    assert judge(8 * 25.4, bars.across_mm).verdict == "exact"
    assert judge(7.95 * 25.4, bars.down_mm).correction == pytest.approx(8 / 7.95, abs=1e-6)


@pytest.mark.parametrize(
    ("measured_mm", "word"),
    [
        (7.87, "inches"),
        (19.9, "centimetres"),
        (199.2 * 25.4, "say inches"),
        (1992.0, "say centimetres"),
        (100.0, "other bar"),
    ],
)
def test_a_slip_is_asked_about(measured_mm: float, word: str) -> None:
    assert word in judge(measured_mm, 200).advice


def test_what_cannot_be_used_is_refused_with_the_field_and_what_to_do() -> None:
    assert usable_correction(None, "across_mm") == 1.0
    assert usable_correction(judge(199.2, 200), "across_mm") == pytest.approx(1.004016)
    with pytest.raises(PageFitting, match="actual size") as fitting:
        usable_correction(judge(190, 200), "across_mm")
    assert fitting.value.field == "across_mm"
    with pytest.raises(ReadingImplausible, match="inches"):
        usable_correction(judge(7.9, 200), "down_mm")


def test_margins_are_the_first_whole_steps() -> None:
    steps = {"top": 3, "right": 4, "bottom": 18, "left": 0}
    assert margins_of_steps(steps) == Margins(top=3, right=4, bottom=18, left=0)  # type: ignore[arg-type]


@pytest.mark.parametrize("step", [21, -1, 3.5, float("nan")])
def test_a_step_that_is_not_there_is_refused(step: float) -> None:
    with pytest.raises(ReadingImplausible, match="0 to 20") as refused:
        margins_of_steps({"top": 3, "right": 3, "bottom": step, "left": 3})
    assert refused.value.field == "margin_mm.bottom"
