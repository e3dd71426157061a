"""The sheet plan as a table of worked cases, and against published sizes."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
import pytest

from worker.errors import (
    CropOutside,
    CropProportions,
    FormatUnknown,
    PictureTooSmall,
    TooManySheets,
    UsableAreaTooSmall,
)
from worker.layout.advice import EYE_MM
from worker.layout.crop.crop import resolve_crop
from worker.layout.planning import plan_sheets
from worker.spec.formats import SHEET_FORMATS, SUPPORTS, size_of_pwg_name
from worker.spec.json import dump_plan, load_plan
from worker.spec.spec import Area, Focus, Margins, Outline, Print, Seams, Sheet, Spec, Support, Tone
from worker.spec.study import DetailLevel, ReferenceStudy
from worker.spec.tone_curve import tone_curve

SAFE = Margins(top=10, right=10, bottom=18, left=10)


def blank(width_px: int = 6000, height_px: int = 4000) -> ReferenceStudy:
    level = DetailLevel(density=np.zeros((100, 150), np.float32), pixel_size_px=10.0)
    thumb = np.full((100, 150), 128, np.uint8)
    return ReferenceStudy(width_px=width_px, height_px=height_px, levels=(level,), thumb=thumb)


@pytest.mark.parametrize(
    ("width", "height", "sheet", "arrangement", "sheets"),
    [
        # A4 with 5 mm margins carries 200 × 273 mm upright, 273 × 200 turned.
        (150, 100, Sheet(), "aligned", 1),
        (200, 273, Sheet(), "aligned", 1),
        (273, 200, Sheet(), "aligned", 1),
        (201, 273, Sheet(), "aligned", 2),
        (600, 400, Sheet(), "aligned", 6),
        (400, 600, Sheet(), "aligned", 6),
        # 190 × 255 mm: two rows of four upright, or three of three turned; mixed, four and three.
        (600, 400, Sheet(margin_mm=SAFE), "aligned", 8),
        (600, 400, Sheet(margin_mm=SAFE), "staggered", 7),
        # A3 carries 287 × 396 mm.
        (600, 400, Sheet(format="iso_a3_297x420mm"), "aligned", 4),
        # Letter carries 205.9 × 255.4 mm.
        (762, 558.8, Sheet(format="na_letter_8.5x11in"), "aligned", 9),
        # 11 rows of turned sheets 200 mm high; 11 pieces of 273 mm in each.
        (3000, 2000, Sheet(), "aligned", 110),
    ],
)
def test_fewest_sheets(
    width: float, height: float, sheet: Sheet, arrangement: str, sheets: int
) -> None:
    spec = Spec(
        support=Support(width_mm=width, height_mm=height),
        sheet=sheet,
        seams=Seams(arrangement=arrangement),  # type: ignore[arg-type]
    )
    assert plan_sheets(spec, blank()).sheet_count == sheets


def test_sheet_formats_measure_what_iso_216_says() -> None:
    """ISO 216:2007: A sizes halve from 841 × 1189 mm, B3 to B1; rounded down to the mm."""
    sizes = {s.title: (s.width_mm, s.height_mm) for s in (*SHEET_FORMATS.values(), *SUPPORTS)}
    width, height = 841, 1189
    for number in range(6):
        assert sizes[f"A{number}"] == (width, height)
        width, height = height // 2, width
    assert sizes["B2"] == (500, 707)
    assert sizes["B4"] == (250, 353)


def test_pwg_names_state_their_size() -> None:
    """PWG 5101.1: the size is part of the name; the letter sheet is 215.9 × 279.4 mm."""
    assert size_of_pwg_name("na_letter_8.5x11in") == pytest.approx((215.9, 279.4))
    assert size_of_pwg_name("iso_a4_210x297mm") == (210, 297)
    with pytest.raises(FormatUnknown):
        size_of_pwg_name("a4")


@pytest.mark.parametrize(
    ("photo", "support", "factor"),
    [
        # Proportional enlargement, the worked example of drawing handbooks (common practice):
        # a 10 × 15 cm print to 40 × 60 cm is four times, 8 × 10 in to 16 × 20 in twice.
        ((1000, 1500), (400, 600), 4.0 / 10),
        ((800, 1000), (406.4, 508.0), 2 * 25.4 / 100),
        # A 4:3 photo on 60 × 40 cm loses height: 4000 px wide, 2667 of 3000 px high remain.
        ((4000, 3000), (600, 400), 600 / 4000),
    ],
)
def test_proportional_enlargement(
    photo: tuple[int, int], support: tuple[float, float], factor: float
) -> None:
    spec = Spec(support=Support(width_mm=support[0], height_mm=support[1]))
    crop = resolve_crop(spec, *photo)
    across = support[0] / (crop.width * photo[0])
    down = support[1] / (crop.height * photo[1])
    assert across == pytest.approx(down, rel=1e-12)
    assert across == pytest.approx(factor)


def test_crop_to_proportions_keeps_two_thirds_of_a_square() -> None:
    spec = Spec(support=Support(width_mm=600, height_mm=400))
    crop = resolve_crop(spec, 3000, 3000)
    assert (crop.width, crop.height) == pytest.approx((1.0, 2 / 3))
    assert crop.top == pytest.approx(1 / 6)


def test_focus_moves_the_crop_as_far_as_it_fits() -> None:
    support = Support(width_mm=600, height_mm=400)
    high = resolve_crop(Spec(support=support, crop=Focus(x=0.5, y=0.1)), 3000, 3000)
    low = resolve_crop(Spec(support=support, crop=Focus(x=0.5, y=0.6)), 3000, 3000)
    assert high.top == 0.0
    assert low.top == pytest.approx(0.6 - 1 / 3)


def test_turned_crops_stay_inside_the_photo() -> None:
    spec = Spec(support=Support(width_mm=600, height_mm=400), rotate_deg=10.0)
    crop = resolve_crop(spec, 6000, 4000)
    turn = np.radians(10.0)
    half = np.array([crop.width * 6000, crop.height * 4000]) / 2
    extent = np.array(
        [
            half[0] * np.cos(turn) + half[1] * np.sin(turn),
            half[0] * np.sin(turn) + half[1] * np.cos(turn),
        ]
    )
    assert (extent <= np.array([3000, 2000]) + 1e-6).all()
    assert extent[1] == pytest.approx(2000)
    whole = Area(left=0, top=0, width=1, height=1)
    with pytest.raises(CropOutside):
        resolve_crop(Spec(support=spec.support, crop=whole, rotate_deg=10.0), 6000, 4000)


@pytest.mark.parametrize("over_px", [-0.4, 0.4])
def test_a_crop_that_rounding_puts_beyond_the_photo_is_moved_inside(over_px: float) -> None:
    """What is beyond has no pixels, and would be made up at that edge alone."""
    spec = Spec(
        support=Support(width_mm=600, height_mm=400),
        crop=Area(left=(3000 + over_px) / 6000, top=over_px / 4000, width=0.5, height=0.5),
        # With a turn the contract takes what lies beyond, and the layout judges.
        rotate_deg=1e-9,
    )
    crop = resolve_crop(spec, 6000, 4000)
    assert min(crop.left, crop.top) >= -1e-9
    assert crop.left + crop.width <= 1 + 1e-9
    assert (crop.width, crop.height) == pytest.approx((0.5, 0.5))


def test_a_crop_of_other_proportions_is_refused_with_the_fitting_one() -> None:
    spec = Spec(
        support=Support(width_mm=600, height_mm=400),
        crop=Area(left=0, top=0, width=0.5, height=0.9),
    )
    with pytest.raises(CropProportions, match=r"0\.5000") as caught:
        resolve_crop(spec, 6000, 4000)
    assert caught.value.field == "crop"


@pytest.mark.parametrize(
    ("spec", "error", "field"),
    [
        (
            Spec(support=Support(width_mm=300, height_mm=200, border_mm=95)),
            PictureTooSmall,
            "support.border_mm",
        ),
        (
            Spec(
                support=Support(width_mm=300, height_mm=200),
                sheet=Sheet(margin_mm=Margins(left=80, right=80)),
            ),
            UsableAreaTooSmall,
            "sheet.margin_mm",
        ),
        (
            Spec(support=Support(width_mm=300, height_mm=200), sheet=Sheet(format="poster")),
            FormatUnknown,
            "sheet.format",
        ),
        (Spec(support=Support(width_mm=9000, height_mm=9000)), TooManySheets, "support"),
    ],
)
def test_what_cannot_be_done_names_its_field(spec: Spec, error: type, field: str) -> None:
    with pytest.raises(error) as caught:
        plan_sheets(spec, blank())
    assert caught.value.field == field


def test_two_more_sheets_are_spent_for_a_protected_area() -> None:
    """Six sheets leave no choice at 200 mm, one way or the other: an area there costs two more."""
    protect = (Area(left=0.3, top=0.45, width=0.1, height=0.1),)
    spec = Spec(support=Support(width_mm=600, height_mm=400), seams=Seams(protect=protect))
    plan = plan_sheets(spec, blank())
    assert plan.sheet_count == 8
    assert not plan.warnings


def test_spare_sheets_for_protected_areas_stay_within_the_most_that_are_allowed() -> None:
    protect = (Area(left=0.45, top=0.1, width=0.1, height=0.2),)
    spec = Spec(support=Support(width_mm=400, height_mm=250), seams=Seams(protect=protect))
    freely, tightly = (plan_sheets(spec, blank(), max_sheets=most) for most in (400, 2))
    assert freely.sheet_count > tightly.sheet_count == 2
    assert [warning.code for warning in tightly.warnings] == ["protected-area-crossed"]


@pytest.mark.parametrize(
    ("width", "height", "side", "lap"),
    [
        # Two pieces of 39.9 mm: whole millimetres of slack leave either one shorter.
        (79.8, 47.5, 36.4, 0.0),
        # Two rows of 38.25 mm, whether or not sheets may be spent on protected areas.
        (129.6, 76.5, 43.4, 0.0),
        # Rows of turned pieces reach 35 mm further each: less than the 40 mm aimed at.
        (192.7, 45.0, 42.5, 28.0),
    ],
)
@pytest.mark.parametrize("arrangement", ["aligned", "staggered"])
@pytest.mark.parametrize("protect", [(), (Area(left=0.4, top=0.4, width=0.3, height=0.1),)])
def test_pieces_that_only_just_suffice_are_a_plan_all_the_same(
    width: float, height: float, side: float, lap: float, arrangement: str, protect: tuple[Area]
) -> None:
    margins = Margins(top=60, right=side, bottom=60, left=side)
    spec = Spec(
        support=Support(width_mm=width, height_mm=height),
        sheet=Sheet(format="iso_a5_148x210mm", margin_mm=margins),
        seams=Seams(
            joint="lap" if lap else "butt",
            lap_mm=lap,
            arrangement=arrangement,  # type: ignore[arg-type]
            protect=protect,
        ),
    )
    plan = plan_sheets(spec, blank())
    assert all(piece.picture_rect_mm.width - piece.lap_right_mm >= 35 for piece in plan.pieces)


def test_an_area_larger_than_a_sheet_is_named() -> None:
    protect = (Area(left=0.0, top=0.0, width=1.0, height=0.5),)
    spec = Spec(support=Support(width_mm=600, height_mm=400), seams=Seams(protect=protect))
    warning = plan_sheets(spec, blank()).warnings[0]
    assert warning.code == "protected-area-crossed"
    assert "area 1" in warning.detail


def test_seams_go_where_there_is_least_line() -> None:
    """A picture with line everywhere but in one strip as wide as the tape is cut in it."""
    density = np.full((400, 600), 0.2, np.float32)
    density[:, 265:300] = 0.0
    level = DetailLevel(density=density, pixel_size_px=2.5)
    study = ReferenceStudy(
        width_px=1500, height_px=1000, levels=(level,), thumb=np.zeros((40, 60), np.uint8)
    )
    plan = plan_sheets(Spec(support=Support(width_mm=360, height_mm=240)), study)
    assert plan.sheet_count == 2
    assert plan.pieces[0].picture_rect_mm.width == pytest.approx(282.5 / 600 * 360, abs=1.0)
    assert plan.seam_line_chosen_mm is not None
    assert plan.seam_line_even_mm is not None
    assert plan.seam_line_chosen_mm < 0.1 * plan.seam_line_even_mm


def test_resolution_is_told_against_pen_and_eye() -> None:
    """DESIGN's example: 3600 px over 600 mm are 152.4 ppi, two pixels 0.33 mm."""
    spec = Spec(support=Support(width_mm=600, height_mm=400))
    sharp = plan_sheets(spec, blank(3600, 2400)).resolution
    assert sharp.reference_ppi == pytest.approx(152.4)
    assert sharp.printed_ppi == pytest.approx(152.4)
    assert sharp.finest_line_mm == pytest.approx(1 / 3, abs=1e-9)
    soft = plan_sheets(spec, blank(600, 400))
    assert soft.resolution.printed_ppi == 120
    assert soft.warnings[0].code == "reference-too-small"
    fine = plan_sheets(Spec(support=Support(width_mm=150, height_mm=100)), blank()).resolution
    assert fine.printed_ppi == 200


def test_an_enlarged_photo_is_measured_by_what_it_resolves() -> None:
    """3600 px that hold as much as 1200: over 600 mm two of them are 1 mm (Shannon 1949)."""
    spec = Spec(support=Support(width_mm=600, height_mm=400))
    plan = plan_sheets(spec, replace(blank(3600, 2400), resolved_px=3.0))
    assert plan.resolution.reference_ppi == pytest.approx(152.4)
    assert plan.resolution.resolved_ppi == pytest.approx(50.8)
    assert plan.resolution.finest_line_mm == pytest.approx(1.0)
    assert plan.resolution.printed_ppi == 120
    told = {warning.code: warning.detail for warning in plan.warnings}
    assert "one of 1200 × 800 pixels" in told["reference-blurred"]


def test_half_as_many_pixels_again_are_printed_as_a_photo_resolves() -> None:
    spec = Spec(support=Support(width_mm=300, height_mm=200))
    plan = plan_sheets(spec, replace(blank(3600, 2400), resolved_px=3.0))
    assert plan.resolution.printed_ppi == pytest.approx(1.5 * 304.8 / 3)


@pytest.mark.parametrize(
    ("resolved_px", "width_mm", "told"),
    [(1.0, 600, False), (1.4, 600, False), (1.6, 600, True), (1.6, 250, False), (4.0, 250, True)],
)
def test_blur_is_mentioned_where_it_costs_lines_that_a_pen_draws(
    resolved_px: float, width_mm: float, *, told: bool
) -> None:
    spec = Spec(support=Support(width_mm=width_mm, height_mm=width_mm / 1.5))
    plan = plan_sheets(spec, replace(blank(3600, 2400), resolved_px=resolved_px))
    assert told == ("reference-blurred" in {warning.code for warning in plan.warnings})


@pytest.mark.parametrize(
    ("style", "printed_ppi"), [("mixed", 120), ("outline", 200), ("values", 200)]
)
def test_what_is_drawn_is_printed_finely_whatever_the_photo(style: Any, printed_ppi: int) -> None:
    spec = Spec(support=Support(width_mm=600, height_mm=400), tone=Tone(style=style))
    soft = plan_sheets(spec, blank(600, 400)).resolution
    assert soft.printed_ppi == printed_ppi
    assert soft.finest_line_mm == pytest.approx(2 * 25.4 / soft.reference_ppi)


def test_the_finest_line_is_no_finer_than_the_print() -> None:
    """At 100 ppi two pixels are 0.51 mm, however sharp the photo (Shannon 1949)."""
    support = Support(width_mm=150, height_mm=100)
    coarse = plan_sheets(Spec(support=support, print=Print(resolution_ppi=100)), blank(3600, 2400))
    assert coarse.resolution.finest_line_mm == pytest.approx(0.508)
    assert "0.5 mm run together" in coarse.resolution.advice


def test_one_sheet_has_no_stack_and_no_diagonal() -> None:
    plan = plan_sheets(Spec(support=Support(width_mm=150, height_mm=200)), blank())
    assert (plan.seams, plan.tape_spots, plan.trim_stacks) == ((), (), ())
    assert [one.name for one in plan.check_lengths if one.scope == "joined"] == ["width", "height"]
    # The guide on one page, then the sheet; a grid has two pages between them.
    assert (plan.guide_pages, plan.first_sheet_page, plan.page_count) == ((1,), 2, 2)
    small = Sheet(format="iso_a5_148x210mm")
    narrow = plan_sheets(Spec(support=Support(width_mm=120, height_mm=150), sheet=small), blank())
    assert (narrow.guide_pages, narrow.first_sheet_page) == ((1, 2), 3)


def test_trim_stacks_are_measured_on_the_paper_and_not_on_the_file() -> None:
    """A printer that prints 98 % is sent 102 %: the cut lies where the print ends, not the file."""
    print_ = Print(across_correction=1.02, down_correction=0.99)
    plan = plan_sheets(
        Spec(support=Support(width_mm=150, height_mm=500), print=print_), blank(1500, 5000)
    )
    (lower,) = (stack for stack in plan.trim_stacks if "2·1" in stack.labels)
    margin, piece = lower.margin_mm, plan.pieces[1]
    assert 210 - margin["left"] - margin["right"] == pytest.approx(150)
    across_page = 297 - margin["top"] - margin["bottom"]
    assert across_page == pytest.approx(piece.picture_rect_mm.height)
    assert margin["left"] == pytest.approx(5 / 1.02)


def test_the_top_of_the_picture_keeps_its_paper_as_a_flap() -> None:
    """Sheets of the top row have no cut there; turned ones have the picture's top at the right."""
    upright = plan_sheets(Spec(support=Support(width_mm=150, height_mm=500)), blank(1500, 5000))
    assert [piece.flap for piece in upright.pieces] == ["top", None]
    assert [sorted(stack.margin_mm) for stack in upright.trim_stacks] == [
        ["bottom", "left", "right"],
        ["bottom", "left", "right", "top"],
    ]
    turned = plan_sheets(Spec(support=Support(width_mm=260, height_mm=190)), blank(2600, 1900))
    assert turned.pieces[0].turned_deg == 90
    assert turned.pieces[0].flap == "right"


def test_staggered_even_pieces_are_no_slivers() -> None:
    """Two pieces of 106 mm: the shift of staggered rows left 27 mm where 40 were to be had."""
    spec = Spec(
        support=Support(width_mm=106, height_mm=106),
        sheet=Sheet(
            format="jis_b5_182x257mm", margin_mm=Margins(top=20, right=20, bottom=20, left=55)
        ),
        seams=Seams(arrangement="staggered", placement="even"),
        print=Print(across_correction=1.015625),
    )
    rects = [piece.picture_rect_mm for piece in plan_sheets(spec, blank()).pieces]
    assert sum(rect.width * rect.height for rect in rects) == pytest.approx(106 * 106)
    assert min(min(rect.width, rect.height) for rect in rects) >= 40 - 1e-6


def test_junctions_next_to_each_other_share_a_bit() -> None:
    """Nine pieces of 273 mm leave staggered seams 3 mm to differ by."""
    support = Support(width_mm=2454, height_mm=1200)
    plan = plan_sheets(Spec(support=support, seams=Seams(arrangement="staggered")), blank())
    bits = [spot.rect_mm for spot in plan.tape_spots if spot.at_junction]
    middles = [(bit.left + bit.width / 2, bit.top + bit.height / 2) for bit in bits]
    assert 0 < len(middles) == len(set(middles)) < 80
    near = [
        (one, other)
        for one, other in combinations(middles, 2)
        if max(abs(one[0] - other[0]), abs(one[1] - other[1])) < 4
    ]
    assert not near


def test_eye_resolution_is_one_arc_minute() -> None:
    """One arc minute is 0.087 mm at 30 cm (Snellen's 20/20 criterion)."""
    assert pytest.approx(0.0873, abs=1e-4) == EYE_MM


def test_tone_curve_lightens_without_changing_the_order() -> None:
    plain = tone_curve(Tone(full_strength=True))
    assert (plain == np.arange(256)).all()
    light = tone_curve(Tone(full_strength=True, lighten=0.5, contrast=0.3))
    assert (np.diff(light.astype(int)) >= 0).all()
    assert light[0] == 128
    assert light[255] == 255


def test_ink_is_one_less_the_grey() -> None:
    spec = Spec(support=Support(width_mm=300, height_mm=200), tone=Tone(full_strength=True))
    assert plan_sheets(spec, blank()).mean_coverage == pytest.approx(1 - 128 / 255)
    light = Spec(support=spec.support, tone=Tone(lighten=1.0))
    assert plan_sheets(light, blank()).mean_coverage == 0.0


def test_a_mirrored_picture_is_the_mirrored_plan() -> None:
    density = np.random.default_rng(3).random((400, 600)).astype(np.float32)
    level = DetailLevel(density=density, pixel_size_px=2.5)
    study = ReferenceStudy(
        width_px=1500, height_px=1000, levels=(level,), thumb=np.zeros((40, 60), np.uint8)
    )
    support = Support(width_mm=390, height_mm=260)
    plain = plan_sheets(Spec(support=support), study)
    mirrored = plan_sheets(Spec(support=support, print=Print(mirror=True)), study)
    cut, other = (p.pieces[0].picture_rect_mm.width for p in (plain, mirrored))
    assert cut == pytest.approx(390 - other)


@pytest.mark.parametrize(
    ("tone", "told"),
    [
        (Tone(), True),
        (Tone(style="colour", lighten=0.5), True),
        (Tone(style="outline"), False),
        (Tone(style="outline", outline=Outline(detail=0)), False),
        (Tone(style="mixed"), False),
        (Tone(style="values"), False),
        (Tone(lighten=1), False),
    ],
)
def test_line_under_tape_is_told_only_where_the_photo_is_printed(tone: Tone, *, told: bool) -> None:
    """It is counted on the photo: of a few strokes it would be a figure of something else."""
    level = DetailLevel(density=np.full((100, 150), 0.1, np.float32), pixel_size_px=10.0)
    study = replace(blank(), levels=(level,))
    support = Support(width_mm=600, height_mm=400)
    plan = plan_sheets(Spec(support=support, tone=tone), study)
    figures = [plan.seam_line_chosen_mm, plan.seam_line_even_mm]
    figures += [each.line_mm for each in (*plan.seams, *plan.tape_spots)]
    assert len(figures) > 10
    if told:
        assert all(figure is not None and figure > 0 for figure in figures)
    else:
        assert set(figures) == {None}
    # Where seams and tape lie does not depend on what is told.
    grey = plan_sheets(Spec(support=support), study)
    assert [seam.from_mm for seam in plan.seams] == [seam.from_mm for seam in grey.seams]
    assert load_plan(json.loads(json.dumps(dump_plan(plan)))) == plan
