"""Reports for people, made from a plan's JSON."""

from __future__ import annotations

from typing import Any

import pytest

from client.command.job.report import orientation_hint, plan_lines, seam_sentence, table


@pytest.fixture
def plan() -> dict[str, Any]:
    """A small plan as JSON."""

    def piece(label: str, left: float, beside: dict[str, list[str]]) -> dict[str, Any]:
        place = {"left": left, "top": 0, "width": 150, "height": 200}
        return {
            "label": label,
            "page": 4,
            "picture_rect_mm": place,
            "turned_deg": 0,
            "neighbours": {"top": [], "right": [], "bottom": [], "left": [], **beside},
        }

    return {
        "picture": {"width_mm": 300, "height_mm": 200},
        "crop": {"left": 0, "top": 0, "width": 1, "height": 1},
        "rotate_deg": 0,
        "sheet": {"width_mm": 210, "height_mm": 297},
        "sheet_count": 2,
        "rows": 1,
        "columns": 2,
        "pieces": [piece("1·1", 0, {"right": ["1·2"]}), piece("1·2", 150, {"left": ["1·1"]})],
        "seams": [{"between": ["1·1", "1·2"]}],
        "seam_line_mm": {"chosen": 120.0, "even": 240.0},
        # 360.6 mm is the diagonal of 300 × 200 (Pythagoras).
        "check_lengths": [
            {"name": "diagonal", "scope": "joined", "length_mm": 360.555, "tolerance_mm": 1.0},
            {"name": "across", "scope": "sheet", "length_mm": 150.0, "tolerance_mm": 0.26},
            {"name": "down", "scope": "sheet", "length_mm": 200.0, "tolerance_mm": 0.35},
        ],
        "sheet_to_test": {"label": "1·1", "page": 4, "tells": True},
        "resolution": {"reference_ppi": 152.4, "printed_ppi": 150, "advice": "Fine lines hold."},
        "ink": {"mean_coverage": 0.31},
        "warnings": [{"code": "reference-too-small", "detail": "Take a larger photo."}],
        "suggestions": [],
    }


def test_a_plan_says_all_that_matters(plan: dict[str, Any]) -> None:
    text = " ".join(" ".join(plan_lines(plan)).split())
    for words in (
        "30 × 20 cm on 2 sheets of 210 × 297 mm (1 row, 2 columns)",
        "1·2",
        "150.0, 0.0",
        "diagonal 360.6 ± 1.0 mm",
        "Print sheet 1·1 (page 4) first",
        "150.0 ± 0.3 mm across and 200.0 ± 0.3 mm down",
        "cover 12 cm of line to trace; along evenly spaced seams it would cover 24 cm (50% is",
        "152 pixels per inch",
        "31% of the picture",
        "Note (reference-too-small): Take a larger photo.",
    ):
        assert words in text


def test_no_line_is_wider_than_a_terminal(plan: dict[str, Any]) -> None:
    plan["resolution"]["advice"] = "word " * 60
    assert max(map(len, plan_lines(plan))) <= 88


def test_a_grid_is_told_where_one_was_asked_for(plan: dict[str, Any]) -> None:
    could_be = {"square_mm": None, "columns": None, "rows": None, "enlargement": 2.6}
    plan["grid"] = could_be
    assert "Grid" not in "\n".join(plan_lines(plan))
    plan["grid"] = could_be | {"square_mm": 50.0, "columns": 6, "rows": 4}
    text = " ".join(" ".join(plan_lines(plan)).split())
    assert "Grid: squares of 50 mm (6 columns, 4 rows), 2.60 times as large" in text
    assert max(map(len, plan_lines(plan))) <= 88


def test_one_sheet_has_no_seam_to_tell_of(plan: dict[str, Any]) -> None:
    plan["seams"], plan["sheet_count"] = [], 1
    text = "\n".join(plan_lines(plan))
    assert "1 sheet of" in text
    assert "Tape" not in text


def test_line_that_is_not_counted_is_not_told_of(plan: dict[str, Any]) -> None:
    plan["seam_line_mm"] = None
    assert "Tape" not in "\n".join(plan_lines(plan))


@pytest.mark.parametrize(
    ("change", "typed"),
    [
        ({"margin_mm": 4.5}, "--margins 4.5"),
        ({"width_mm": 596.0, "height_mm": 400.05}, "--support 596x400.05mm"),
        ({"format": "iso_a3_297x420mm"}, "--sheet iso_a3_297x420mm"),
        ({"arrangement": "staggered"}, "--arrangement staggered"),
        (
            {"across_correction": 1.0, "down_correction": 1.0},
            "--across-correction 1 --down-correction 1",
        ),
    ],
)
def test_what_saves_sheets_is_told_as_it_is_typed(
    plan: dict[str, Any], change: dict[str, Any], typed: str
) -> None:
    detail = "This would take 6 sheets instead of 8."
    plan["suggestions"] = [{"code": "fewer-sheets", "change": change, "detail": detail}]
    text = " ".join(" ".join(plan_lines(plan)).split())
    assert f"Fewer sheets: {detail} Say {typed}." in text


def test_faces_to_protect_are_told_as_it_is_typed(plan: dict[str, Any]) -> None:
    detail = "A face is found."
    plan["suggestions"] = [{"code": "protect-face", "change": {"protect": []}, "detail": detail}]
    text = " ".join(" ".join(plan_lines(plan)).split())
    assert "Faces: A face is found. Say --protect faces." in text


@pytest.mark.parametrize(
    ("heads", "whole", "moved", "said"),
    [
        (0, 0, False, ""),
        (2, 2, False, ""),
        (1, 1, True, "Crop: The head lies in it whole. It was moved off the centre for that."),
        (2, 2, True, "Crop: All 2 heads lie in it whole. It was moved off the centre for that."),
        (3, 2, False, "Crop: 2 of 3 heads lie in it whole."),
    ],
)
def test_what_the_crop_does_with_heads_is_told(
    plan: dict[str, Any], *, heads: int, whole: int, moved: bool, said: str
) -> None:
    plan["framing"] = {"faces": [{}] * heads, "whole": whole, "moved": moved}
    told = [line for line in plan_lines(plan) if line.startswith("Crop:")]
    assert told == ([said] if said else [])


def test_nothing_saved_is_not_boasted_of() -> None:
    assert seam_sentence({"chosen": 100, "even": 100}).endswith("10 cm of line to trace.")
    assert seam_sentence({"chosen": 23030, "even": 23110}).endswith("2303 cm of line to trace.")
    assert seam_sentence({"chosen": 0, "even": 0}).endswith("0 cm of line to trace.")


def test_columns_line_up() -> None:
    lines = list(table(("a", "b"), [("long word", "x"), ("y", "z")]))
    assert {line.index(last) for line, last in zip(lines, "bxz", strict=True)} == {11}


@pytest.mark.parametrize(
    ("width", "height", "hint"),
    [
        # A photo of 3:4 on a support of 3:2: half of it is left, from 3:4 ÷ 3:2.
        (1.0, 0.5, "only 50% of the photo is used; --portrait"),
        (1.0, 0.9, ""),
        (0.8, 1.0, ""),
    ],
)
def test_a_support_that_lies_under_a_standing_photo_is_told(
    plan: dict[str, Any], width: float, height: float, hint: str
) -> None:
    plan["crop"] = {"left": 0, "top": 0, "width": width, "height": height}
    assert hint in "".join(orientation_hint(plan))
    assert bool(hint) == bool(list(orientation_hint(plan)))
