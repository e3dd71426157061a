"""What the guide says about printing."""

from collections.abc import Callable
from dataclasses import replace

from worker.pages.guide.sections.print import printing
from worker.pages.pack_content import PackContent
from worker.spec.spec import Area, Print, Seams, Sheet, Spec, Support

SIX = Spec(support=Support(width_mm=600, height_mm=400))


def said(pack: PackContent) -> str:
    text = "\n".join(step.text for step in printing(pack).steps)
    return text.replace("**", "").replace("\u00a0", " ")


def test_guide_has_this_packs_figures(pack: Callable[..., PackContent]) -> None:
    six = pack(SIX)
    text = said(six)
    assert "Print page 4 (sheet 1·1) alone" in text
    assert "print pages 5 to 9" in text
    # An engine's own error, and what page fitting does (common practice).
    assert "by less than 2 %? That is the printer" in text
    assert "3 % too short or more: page fitting is on" in text


def test_two_pages_in_a_row_are_both_named(pack: Callable[..., PackContent]) -> None:
    """A range of two says no more than its ends."""
    six = pack(SIX)
    for tested, rest in ((6, "4, 5, and 7 to 9"), (7, "4 to 6, 8, and 9"), (8, "4 to 7 and 9")):
        told = replace(six.plan.sheet_to_test, page=tested)
        text = said(replace(six, plan=replace(six.plan, sheet_to_test=told)))
        assert f"print pages {rest}." in text


def test_correction_binds_the_pack_to_one_printer(pack: Callable[..., PackContent]) -> None:
    text = said(pack(replace(SIX, print=Print(across_correction=1.004))))
    assert "corrected for one printer: × 1.0040 across" in text
    # 1.004 that still measures 99.8 wants 1.004 × 100 / 99.8, not 100 / 99.8.
    assert "this pack’s corrections, each times true length ÷ measured length" in text
    assert "with the correction: true length ÷ measured length" in said(pack(SIX))


def test_first_print_is_measured_both_ways_and_true_is_told(
    pack: Callable[..., PackContent],
) -> None:
    six = pack(SIX)
    tested = six.plan.piece(six.plan.sheet_to_test.label)
    assert tested is not None
    first = tested.picture_rect_mm
    across, down = sorted((first.width, first.height))
    # 600 × 400 lies on its side: 200 mm is half the height.
    assert across == 200
    text = said(six)
    # A six-hundredth of each, and a little for damp.
    assert (
        f"from cut to cut: 200.0 mm ± 0.3 mm across the page and {down:.1f} mm ± "
        f"{down / 574:.1f} mm down." in text
    )
    assert f"Print page {tested.page} (sheet {tested.label}) alone first." in text
    assert "does not show" not in text


def test_a_sheet_too_short_to_tell_names_what_to_measure_instead(
    pack: Callable[..., PackContent],
) -> None:
    strict = replace(SIX, sheet=Sheet(format="iso_a5_148x210mm"), seams=Seams(within_mm=0.4))
    assert "print and measure the printer’s test page, or join the first row" in said(pack(strict))
    assert "test page, or join" not in said(pack(SIX))


def test_what_to_do_about_a_printer_that_clips(pack: Callable[..., PackContent]) -> None:
    text = said(pack(SIX))
    assert text.index("lay the rule from tick to tick") < text.index("enter the margins that it")


def test_what_the_plan_warns_of_stands_where_one_prints(pack: Callable[..., PackContent]) -> None:
    whole = Area(left=0.1, top=0.1, width=0.8, height=0.8)
    crossed = pack(replace(SIX, seams=Seams(protect=(whole,))))
    assert crossed.plan.warnings[0].code == "protected-area-crossed"
    assert "a seam crosses a protected area" in said(crossed)
    assert "Take care" not in said(pack(SIX))


def test_many_sheets_are_joined_row_by_row_which_a_wall_says_anyway(
    pack: Callable[..., PackContent],
) -> None:
    support = Support(width_mm=2200, height_mm=1100)
    many = pack(Spec(support=support, sheet=Sheet(format="iso_a5_148x210mm")))
    wall = pack(Spec(support=Support(width_mm=3000, height_mm=2000)))
    assert "many-sheets" in {one.code for one in many.plan.warnings}
    assert "one row at a time" in said(many)
    assert "one row at a time" not in said(wall)
    soft = f"no line is thinner than {many.plan.resolution.finest_line_mm:.1f} mm"
    small = "reference-too-small" in {one.code for one in many.plan.warnings}
    assert (soft in said(many)) is small
