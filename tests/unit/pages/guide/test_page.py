"""The guide: two pages, for this pack."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.folded import fold
from worker.pages.guide.page import draw_guide
from worker.pages.guide.paper import first_page
from worker.pages.guide.support import second_page
from worker.pages.pack_content import PackContent, SheetPage
from worker.pdf.typeset import lines, words
from worker.spec.formats import SHEET_FORMATS
from worker.spec.spec import Area, Print, Seams, Sheet, Spec, Support, Tone

SIX = Spec(support=Support(width_mm=600, height_mm=400))


def said(pack: Callable[..., PackContent]) -> str:
    sections = (*first_page(pack), *second_page(pack))
    text = "\n".join(step.text for section in sections for step in section.steps)
    return text.replace("**", "").replace("\u00a0", " ")


@fold(
    ("name", SHEET_FORMATS),
    ("size", [(180, 130), (600, 400), (1200, 800)]),
    ("joint", ["butt", "lap"]),
)
def test_guide_takes_its_pages_on_every_sheet_and_can_be_read(
    pack: Callable[..., PackContent], name: str, size: tuple[int, int], joint: str
) -> None:
    seams = Seams(joint=joint, lap_mm=8 if joint == "lap" else 0)
    support = Support(width_mm=size[0], height_mm=size[1], border_mm=12)
    content = pack(Spec(support=support, seams=seams, sheet=Sheet(format=name)))
    pages = draw_guide(content)
    assert len(pages) == len(content.plan.guide_pages)
    for page in pages:
        leaf, size_pt = page.keywords["guide_page"], page.keywords["size_pt"]
        assert leaf.spare(size_pt) >= 0
        assert size_pt >= 7.0


def test_guide_has_this_packs_figures(pack: Callable[..., PackContent]) -> None:
    six = pack(SIX)
    text = said(six)
    assert "Print page 4 (sheet 1·1) alone" in text
    assert "print pages 5 to 9" in text
    # An engine's own error, and what page fitting does (common practice).
    assert "by less than 2 %? That is the printer" in text
    assert "3 % too short or more: page fitting is on" in text
    # 600 × 400: the diagonal is 200 × √13.
    assert "721.1 mm" in text
    assert "row 2: 2·1 – 2·2 – 2·3" in text
    assert f"{len(six.plan.tape_spots)} bits" in text
    for stack in six.plan.trim_stacks:
        assert f"foot {stack.margin_mm['bottom']:.1f}" in text


def test_inches_stand_beside_millimetres_on_american_sheets(
    pack: Callable[..., PackContent],
) -> None:
    support = Support(width_mm=558.8, height_mm=762)
    text = said(pack(Spec(support=support, sheet=Sheet(format="na_letter_8.5x11in"))))
    assert "558.8 mm (22 in)" in text
    assert " in)" not in said(pack(SIX))


@pytest.mark.parametrize(
    ("tone", "paper"),
    [
        ("light", "graphite transfer paper"),
        ("mid", "white or graphite transfer paper"),
        ("dark", "white (chalk) transfer paper"),
    ],
)
def test_transfer_paper_suits_the_support(
    pack: Callable[..., PackContent], tone: str, paper: str
) -> None:
    support = Support(width_mm=600, height_mm=400, tone=tone)
    text = said(pack(Spec(support=support)))
    assert paper in text
    assert "wax-free" in text


@pytest.mark.parametrize("style", ["grey", "outline", "mixed", "values"])
def test_mirrored_pack_is_told_apart(pack: Callable[..., PackContent], style: str) -> None:
    tone = Tone(style=style)
    text = said(pack(replace(SIX, print=Print(mirror=True), tone=tone)))
    assert "face down" in text
    assert "on the back" in text
    # Lines that lie face down are not seen: nothing can be traced, and transfer paper is none.
    assert "Slide it under" not in text
    assert "race the" not in text
    assert "0.5 mm pen" not in text
    # What lets go on the support is drawn before the enlargement is hinged.
    assert text.index("on the printed side with") < text.index("Measure the support")
    assert text.index("Measure the support") < text.index("Rub the back")


def test_correction_binds_the_pack_to_one_printer(pack: Callable[..., PackContent]) -> None:
    text = said(pack(replace(SIX, print=Print(across_correction=1.004))))
    assert "corrected for one printer: × 1.0040 across" in text
    # 1.004 that still measures 99.8 wants 1.004 × 100 / 99.8, not 100 / 99.8.
    assert "this pack’s corrections, each times true length ÷ measured length" in text
    assert "with the correction: true length ÷ measured length" in said(pack(SIX))


def test_face_down_the_last_column_is_at_the_left(pack: Callable[..., PackContent]) -> None:
    text = said(pack(replace(SIX, print=Print(mirror=True))))
    assert "(1·3, 1·2, 1·1, 2·3 …): as it lies face down, along each row from left" in text
    assert "(1·1, 1·2, 1·3, 2·1 …): along each row from left" in said(pack(SIX))


def test_one_column_is_joined_from_the_top_down(pack: Callable[..., PackContent]) -> None:
    text = said(pack(Spec(support=Support(width_mm=100, height_mm=900))))
    assert "From the top down: 1·1 – 2·1 – 3·1 – 4·1." in text
    assert "Row A" not in text


def test_protected_areas_stay_free_of_tape(pack: Callable[..., PackContent]) -> None:
    area = Area(left=0.4, top=0.2, width=0.1, height=0.1)
    assert "Nothing over the protected area" in said(
        pack(replace(SIX, seams=Seams(protect=(area,))))
    )
    assert "protected" not in said(pack(SIX))


def test_single_sheet_needs_no_joining(pack: Callable[..., PackContent]) -> None:
    titles = [
        section.title
        for section in first_page(pack(Spec(support=Support(width_mm=180, height_mm=130))))
    ]
    assert titles == ["Print", "Cut", "Check"]
    text = said(pack(Spec(support=Support(width_mm=180, height_mm=130))))
    assert "Width: 180.0 mm" in text
    for word in ("1·1 top left", "seam", "tape spot", "stack", "passes"):
        assert word not in text


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


def test_lengths_that_are_all_off_are_no_fault_of_a_seam(pack: Callable[..., PackContent]) -> None:
    text = said(pack(SIX))
    assert text.index("in the same proportion: it is the printer or damp") < text.index(
        "gapes, over"
    )


def test_cautions_are_given_and_defer(pack: Callable[..., PackContent]) -> None:
    text = said(pack(SIX))
    for word in ("Blades", "cutting mat", "metal rule", "Children", "dust", "Fixative", "Local"):
        assert word in text


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


def test_sheets_that_are_all_cut_differently_share_left_and_head(
    pack: Callable[..., PackContent],
) -> None:
    two = pack(Spec(support=Support(width_mm=330, height_mm=170)))
    margin = {**two.plan.trim_stacks[0].margin_mm, "top": 15.0}
    stacks = tuple(
        replace(two.plan.trim_stacks[0], labels=(piece.label,), margin_mm=margin)
        for piece in two.plan.pieces
    )
    text = said(replace(two, plan=replace(two.plan, trim_stacks=stacks)))
    assert "All share left 5.0 and, where the head is cut, head 15.0 from the paper’s" in text
    assert "Stack I" not in text


def test_sides_without_a_hairline_are_cut_from_tick_to_tick(
    pack: Callable[..., PackContent],
) -> None:
    six = pack(SIX)
    # Every picture begins where the printer's margin ends, so no line can stand at its left.
    assert all(SheetPage(pack=six, piece=piece).room("left") == 0 for piece in six.plan.pieces)
    assert "left side, and any other without a hairline, runs from tick to tick" in said(six)
