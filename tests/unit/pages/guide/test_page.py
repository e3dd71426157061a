"""The guide: two pages, for this pack."""

from collections.abc import Callable
from dataclasses import replace

from worker.pages.guide.contents import first_page, second_page
from worker.pages.pack_content import PackContent
from worker.pdf.typeset import lines, words
from worker.spec.spec import Area, Print, Seams, Sheet, Spec, Support

SIX = Spec(support=Support(width_mm=600, height_mm=400))


def said(pack: Callable[..., PackContent]) -> str:
    sections = (*first_page(pack), *second_page(pack))
    text = "\n".join(step.text for section in sections for step in section.steps)
    return text.replace("**", "").replace("\u00a0", " ")


def test_guide_has_this_packs_figures(pack: Callable[..., PackContent]) -> None:
    six = pack(SIX)
    text = said(six)
    assert "Print page 4 (sheet 1·1) alone" in text
    assert "print pages 5 to 9" in text
    # An engine's own error, and what page fitting does (common practice).
    assert "by less than 2 %? That is the printer" in text
    assert "3 % too short or more: page fitting is on" in text


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
    assert "the sheet is not lost" in text
    assert text.index("the sheet is not lost") < text.index("Enter those margins")


def test_bold_phrases_keep_their_punctuation() -> None:
    found = words("Load **A4** paper, (**grey**) or **two words**.")
    assert [word.text for word in found if word.clings] == ["grey", ")", "."]


def test_lines_fit_their_measure() -> None:
    text = "a few **bold words** and others " * 12
    for line in lines(text, 9, 60):
        assert sum(len(word.text) + 1 for word in line) < 60


def test_what_the_plan_warns_of_stands_where_one_prints(pack: Callable[..., PackContent]) -> None:
    whole = Area(left=0.1, top=0.1, width=0.8, height=0.8)
    crossed = pack(replace(SIX, seams=Seams(protect=(whole,))))
    assert crossed.plan.warnings[0].code == "protected-area-crossed"
    assert f"Mind: {crossed.plan.warnings[0].detail}" in said(crossed)
    assert "Mind:" not in said(pack(SIX))
