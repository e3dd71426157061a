"""The assembly map."""

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest.mock import MagicMock

import numpy as np
import pikepdf
import pytest
from PIL import Image

from worker.pages.map.dimensions import draw_check_lengths, draw_way_up
from worker.pages.map.page import draw_map_picture
from worker.pages.map.placement import place_map
from worker.pages.pack_content import PackContent, PackText
from worker.pdf.canvas import PdfCanvas
from worker.pdf.raster import rasterise
from worker.spec.plan import Rect
from worker.spec.spec import Area, Seams, Sheet, Spec, Support

SPECS = {
    "one": Spec(support=Support(width_mm=180, height_mm=130, border_mm=10)),
    "six": Spec(support=Support(width_mm=600, height_mm=400)),
    "portrait": Spec(support=Support(width_mm=400, height_mm=600, border_mm=15)),
    "strip": Spec(support=Support(width_mm=2400, height_mm=200)),
    "mural": Spec(support=Support(width_mm=3000, height_mm=2000)),
    "letter": Spec(
        support=Support(width_mm=558.8, height_mm=762),
        sheet=Sheet(format="na_letter_8.5x11in"),
        seams=Seams(arrangement="staggered", joint="lap", lap_mm=6),
    ),
}


JOINED = {name: spec for name, spec in SPECS.items() if name != "one"}


@pytest.mark.parametrize("spec", JOINED.values(), ids=JOINED.keys())
def test_map_tells_pieces_lengths_and_stacks(
    make: Callable[..., Any], read: Callable[[Path, int], str], spec: Spec
) -> None:
    made = make(spec)
    words = read(made.path, 1)
    for piece in made.plan.pieces:
        assert piece.label in words
    for check in made.plan.check_lengths:
        assert f"{check.length_mm:.1f} mm" in words
        assert f"± {check.tolerance_mm:.1f}" in words
    assert "7K3F-Q2ZD" in words
    assert "Still life with a pear" in words
    assert f"{made.plan.trim_stacks[0].margin_mm['bottom']:.1f}" in words


def test_the_map_says_nothing_that_nobody_uses_at_the_table(
    make: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    words = read(make(SPECS["six"]).path, 1)
    for word in ("of line", "even", "diagonal ", "pass"):
        assert word not in words


@pytest.mark.parametrize("seams", [Seams(), Seams(joint="lap", lap_mm=8)])
def test_no_line_but_seams_runs_over_the_picture(
    pack: Callable[..., PackContent], seams: Seams
) -> None:
    """A line across a face would be the first thing that one sees of it."""
    face = Area(left=0.4, top=0.2, width=0.1, height=0.2)
    made = pack(replace(SPECS["six"], seams=replace(seams, protect=(face,))))
    placement = place_map(made, Rect(15, 50, 180, 190))
    canvas = MagicMock(spec=PdfCanvas, grey=False)
    canvas.width.return_value = 10.0
    draw_map_picture(canvas, placement, Image.new("L", (600, 400), 128))
    draw_check_lengths(canvas, placement)
    picture, across, down = placement.picture, 0, 0
    for call in canvas.line.call_args_list:
        (x1, y1), (x2, y2) = call.args[:2]
        inside = picture.left < (x1 + x2) / 2 < picture.right
        if inside and picture.top < (y1 + y2) / 2 < picture.bottom:
            assert x1 == x2 or y1 == y2
            across, down = across + (y1 == y2), down + (x1 == x2)
    assert across > 0 < down
    stroked = [call.args[0] for call in canvas.rect.call_args_list if "stroke" in call.kwargs]
    assert placement.area(made.plan.protected_mm[0]) not in stroked


@pytest.mark.parametrize("wide_mm", [4.0, 12.0])
def test_the_word_for_the_top_stands_clear_of_the_drawing(
    pack: Callable[..., PackContent], wide_mm: float
) -> None:
    """Its length is the language's."""
    placement = place_map(pack(SPECS["six"]), Rect(15, 50, 180, 190))
    canvas = MagicMock(spec=PdfCanvas)
    canvas.width.return_value = wide_mm
    draw_way_up(canvas, placement)
    words = {call.args[1]: call.args[0] for call in canvas.text.call_args_list}
    assert words["top"][0] - wide_mm / 2 > placement.support.right


def test_what_is_protected_is_shown_clear(pack: Callable[..., PackContent]) -> None:
    area = Area(left=0.5, top=0.25, width=0.25, height=0.5)
    made = pack(replace(SPECS["six"], seams=Seams(protect=(area,))))
    canvas = MagicMock(spec=PdfCanvas, grey=True)
    draw_map_picture(canvas, place_map(made, Rect(15, 50, 180, 190)), Image.new("L", (600, 400)))
    shown = np.asarray(Image.open(io.BytesIO(canvas.jpeg.call_args.args[0])))
    assert shown[100:300, 300:450].mean() < 10
    assert shown[:, :280].mean() > 100


@pytest.mark.parametrize("spec", SPECS.values(), ids=SPECS.keys())
def test_drawing_is_to_scale_and_on_the_page(pack: Callable[..., PackContent], spec: Spec) -> None:
    made = pack(spec)
    room = Rect(15, 50, 180, 190)
    placement = place_map(made, room)
    picture = made.plan.picture
    assert placement.picture.width / picture.width_mm == pytest.approx(placement.scale)
    assert placement.picture.height / picture.height_mm == pytest.approx(placement.scale)
    assert placement.support.left >= room.left
    assert placement.support.right <= room.right
    assert placement.support.top >= room.top
    assert placement.support.bottom <= room.bottom
    border = spec.support.border_mm * placement.scale
    assert placement.picture.left - placement.support.left == pytest.approx(border)


@pytest.mark.parametrize("spec", SPECS.values(), ids=SPECS.keys())
def test_ink_stays_inside_the_printers_margins(make: Callable[..., Any], spec: Spec) -> None:
    made = make(spec)
    for page in range(1, min(3, made.plan.page_count) + 1):
        seen = np.asarray(rasterise(made.path, page, 72).convert("L"))
        edge = int(5 / 25.4 * 72)
        for strip in (seen[:edge], seen[-edge:], seen[:, :edge], seen[:, -edge:]):
            assert strip.min() == 255


def test_map_is_vector_over_one_faint_picture(make: Callable[..., Any]) -> None:
    with pikepdf.open(make(SPECS["six"]).path) as pdf:
        steps = pikepdf.parse_content_stream(pdf.pages[0])
        assert sum(str(step.operator) == "Do" for step in steps) == 1


@pytest.mark.parametrize(
    "title",
    ["", " ", "x" * 300, "Very long words and many of them " * 9, "صورة العائلة " * 20, "\x00\x07"],
)
def test_any_title_finds_room(make: Callable[..., Any], title: str) -> None:
    made = make(SPECS["six"], text=PackText(title=title, number="7K3F-Q2ZD"))
    seen = np.asarray(rasterise(made.path, 1, 72).convert("L"))
    assert seen[:, -30:].min() == 255


def test_mirrored_is_said(make: Callable[..., Any], read: Callable[[Path, int], str]) -> None:
    spec = SPECS["six"]
    made = make(replace(spec, print=replace(spec.print, mirror=True)))
    assert "mirrored" in read(made.path, 1)


def test_what_is_dashed_with_a_lap_is_named(
    make: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    six = SPECS["six"]
    lapped = replace(six, seams=Seams(joint="lap", lap_mm=8))
    # Once in the head, and once beside the sign.
    assert read(make(lapped).path, 1).count("lap of 8 mm") == 2
    assert "lap" not in read(make(six).path, 1).split()


def test_tape_in_black_alone_is_lighter_than_any_picture(pack: Callable[..., PackContent]) -> None:
    """The picture below is pale too: a tint of tape's would be lost in it."""
    placement = place_map(pack(SPECS["six"]), Rect(15, 50, 180, 190))
    canvas = MagicMock(spec=PdfCanvas, grey=True)
    draw_map_picture(canvas, placement, Image.new("L", (600, 400), 128))
    taped = [placement.area(spot.rect_mm) for spot in placement.pack.plan.tape_spots]
    fills = [call.kwargs["fill"] for call in canvas.rect.call_args_list if call.args[0] in taped]
    assert len(fills) == len(taped) > 0
    assert min(fill.luma for fill in fills) > 0.99
