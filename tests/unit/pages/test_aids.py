"""Lines, grid, key of tones and the pages of the grid, as they are drawn and read."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from PIL import Image

from tests.folded import fold, spread
from worker.layout.grid import column_name, edges, square_grid
from worker.pages.grid.squares import GridPlacement, draw_square_names, style_of_grid
from worker.pages.grid.support import ticks
from worker.pages.guide.contents import first_page, second_page
from worker.pages.guide.fitting import guide_pages
from worker.pages.lengths import measures_for
from worker.pages.pack import PackText, PrintedPiece, write_map, write_pack
from worker.pages.pack_content import Aids, PackContent, Tones
from worker.pages.tone_key import percent
from worker.pdf.indexed_image import index_image
from worker.pdf.raster import rasterise
from worker.pdf.stroke_paths import LineWork
from worker.spec.formats import SHEET_FORMATS, SheetFormat
from worker.spec.plan import Plan, Rect, Size
from worker.spec.spec import Grid, Print, Sheet, Spec, Support, Tone, ToneStyle, Values
from worker.spec.strokes import Strokes
from worker.words.catalogue import words_for

SIX = Spec(support=Support(width_mm=600, height_mm=400))
TEXT = PackText(title="Still life with a pear", number="7K3F-Q2ZD")
GRIDDED = replace(SIX, grid=Grid(square_mm=50))
TONES = Tones(greys=(30, 90, 150, 200, 255), shares=(0.302, 0.2, 0.25, 0.244, 0.004))


def strokes(*points: tuple[tuple[float, float], ...], weight: int = 1) -> Strokes:
    """Each of four points, one curve."""
    return Strokes(
        curves_mm=np.asarray(points, np.float32),
        first=np.arange(len(points) + 1, dtype=np.int32),
        weight=np.full(len(points), weight, np.uint8),
        length_mm=np.full(len(points), 10, np.float32),
    )


def straight(x: float, y: float, x2: float, y2: float) -> tuple[tuple[float, float], ...]:
    return tuple((x + (x2 - x) * part / 3, y + (y2 - y) * part / 3) for part in range(4))


def written(
    spec: Spec, plan: Plan, path: Path, aids: Aids | None = None, *, sheets: bool = True
) -> Path:
    """A pack; its sheets may be left out, where a test looks at what is before them."""
    tone = Image.new("L", (60, 40), 200)
    outline = spec.tone.style == "outline"
    indexed = None if outline else index_image(tone)
    write_pack(
        path,
        spec=spec,
        plan=plan,
        text=TEXT,
        faint=None if outline else tone,
        small=tone if spec.grid and not outline else None,
        printed=(PrintedPiece(piece, indexed=indexed) for piece in plan.pieces if sheets),
        aids=aids,
    )
    return path


@pytest.fixture
def packed(pack: Callable[..., PackContent], tmp_path: Path) -> Callable[..., Any]:
    def made(spec: Spec, aids: Aids | None = None, *, sheets: bool = True) -> tuple[Path, Plan]:
        plan = pack(spec).plan
        return written(spec, plan, tmp_path / "pack.pdf", aids, sheets=sheets), plan

    return made


def area_of(sheet: SheetFormat) -> float:
    return sheet.width_mm * sheet.height_mm


def said(pack: PackContent) -> str:
    sections = (*first_page(pack), *second_page(pack))
    text = "\n".join(step.text for section in sections for step in section.steps)
    return text.replace("**", "").replace("\u00a0", " ")


def in_style(style: ToneStyle) -> Spec:
    return replace(SIX, tone=Tone(style=style))


def test_only_strokes_that_meet_a_piece_are_on_its_sheet() -> None:
    lines = LineWork(
        strokes=strokes(straight(10, 10, 20, 20), straight(100, 10, 120, 20)), line_mm=0.35
    )
    ((width_mm, paths),) = lines.paths(Rect(0, 0, 50, 50))
    assert width_mm == 0.35
    assert paths == "1000 1000 m 1333 1333 1667 1667 2000 2000 c\nS"
    # Half of its width reaches over the edge.
    ((_, reaching),) = lines.paths(Rect(20.1, 0, 30, 50))
    assert "1000 1000 m" in reaching
    assert list(lines.paths(Rect(21, 0, 30, 50))) == []


def test_dashes_begin_with_each_stroke_and_are_the_same_on_every_sheet() -> None:
    """A stroke is one whole path on each sheet, and a path's dashes begin with it (ISO 32000-1)."""
    lines = LineWork(strokes=strokes(straight(10, 10, 80, 20), weight=3), line_mm=0.35)
    ((width_mm, paths),) = lines.paths(Rect(0, 0, 50, 50))
    assert width_mm == 0.18
    assert paths.startswith("[200 150] 0 d\n1000 1000 m ")
    assert paths.endswith("c\nS\n[] 0 d")
    assert list(lines.paths(Rect(50, 0, 50, 50))) == [(width_mm, paths)]


@pytest.mark.parametrize("name", ["iso_a4_210x297mm", "iso_a5_148x210mm"])
def test_what_has_nothing_to_trace_says_so_on_sheet_and_map(
    packed: Callable[..., Any], read: Callable[[Path, int], str], name: str
) -> None:
    spec = replace(in_style("outline"), sheet=Sheet(format=name))
    path, plan = packed(spec, Aids(blank=frozenset({"1·2"})))
    said = {page: "nothing to trace here" in " ".join(read(path, page).split()) for page in (1, 2)}
    assert said == {1: True, 2: False}
    blank = plan.pieces[1]
    for piece in plan.pieces[:3]:
        told = set(read(path, piece.page).split()) >= {"nothing", "to", "trace", "here"}
        assert told == (piece.label == blank.label == "1·2")
    without, _ = packed(spec)
    assert "nothing to trace" not in read(without, 1)


def test_one_sheet_is_a_guide_and_the_sheet(
    packed: Callable[..., Any], read: Callable[[Path, int], str], tmp_path: Path
) -> None:
    spec = replace(in_style("values"), support=Support(width_mm=180, height_mm=130))
    path, plan = packed(spec, Aids(tones=TONES))
    with pikepdf.open(path) as pdf:
        assert len(pdf.pages) == plan.page_count == 2
        outline = pdf.open_outline()
        assert [each.title for each in outline.root] == ["Guide", "1·1"]
    words = read(path, 1)
    assert "page 1 of 2" in words
    assert "the key on page 2" in " ".join(words.split())
    for none in ("1·1", "diagonal", "stack", "seam", "Join"):
        assert none not in words
    assert "1·1" not in read(path, 2)
    assert "tones" in read(path, 2)
    # What a screen shows.
    alone = tmp_path / "map.pdf"
    write_map(alone, spec=spec, plan=plan, text=TEXT, faint=None, aids=Aids(tones=TONES))
    for none in ("1·1", "diagonal", "stack", "cuts", "page"):
        assert none not in read(alone, 1)
    assert "180" in read(alone, 1)


def test_a_picture_without_lines_has_none_to_draw(packed: Callable[..., Any]) -> None:
    none = Strokes(
        curves_mm=np.zeros((0, 4, 2), np.float32),
        first=np.zeros(1, np.int32),
        weight=np.zeros(0, np.uint8),
        length_mm=np.zeros(0, np.float32),
    )
    spec = replace(in_style("outline"), grid=Grid(square_mm=50))
    path, plan = packed(spec, Aids(lines=LineWork(strokes=none, line_mm=0.35)))
    with pikepdf.open(path) as pdf:
        assert len(pdf.pages) == 5 + plan.sheet_count


def test_lines_are_black_and_nothing_lies_below_them(packed: Callable[..., Any]) -> None:
    crossing = strokes(straight(5, 5, 595, 395), weight=2)
    path, plan = packed(in_style("outline"), Aids(lines=LineWork(strokes=crossing, line_mm=0.35)))
    with pikepdf.open(path) as pdf:
        for page in pdf.pages:
            assert "/XObject" not in page.Resources
    piece = plan.pieces[0]
    page = np.asarray(rasterise(path, piece.page, 300).convert("L"))
    cut = piece.sheet_rect_mm
    inside = page[
        int((cut.top + 1) * 11.81) : int((cut.bottom - 1) * 11.81),
        int((cut.left + 1) * 11.81) : int((cut.right - 1) * 11.81),
    ]
    assert inside.min() == 0
    assert np.median(inside) == 255


def test_the_map_leaves_the_shortest_of_too_many_lines_out() -> None:
    many = [straight(x, 0, x, 1 + x) for x in range(1, 60)]
    found = strokes(*many)
    found = replace(found, length_mm=np.arange(1, 60, dtype=np.float32))
    lines = LineWork(strokes=found, line_mm=0.35)
    ((_, paths),) = lines.reduced_paths(0.5, 20)
    assert paths.count(" m ") == 20
    # The longest, at half its size, in 50ths of a millimetre.
    assert f"{59 * 25} 0 m" in paths
    assert "S 25 0 m" not in paths


def test_two_pages_of_the_grid_lie_between_guide_and_sheets(
    packed: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    path, plan = packed(GRIDDED)
    support = read(path, 5)
    assert "The same squares on the support" in support
    # Twelve columns have eleven ticks between them.
    for place in range(50, 600, 50):
        assert f"{place}.0" in support
    assert f"{plan.grid.enlargement:.2f} times" in support
    assert "erase" in support
    assert "page 6 of 11" in read(path, 6)
    with pikepdf.open(path) as pdf:
        assert len(pdf.pages) == 11
        boxes = {tuple(float(side) for side in page.MediaBox) for page in pdf.pages}
        assert len(boxes) == 1


@pytest.mark.parametrize(
    ("square_mm", "told"),
    [
        (75, "8 columns, a to h,"),
        (60, "10 columns, a to k without i,"),
        (50, "12 columns, a to n without i and l,"),
        (25, "24 columns, a to aa without i, l, and o,"),
    ],
)
def test_the_reference_tells_which_letters_there_are(
    packed: Callable[..., Any],
    read: Callable[[Path, int], str],
    square_mm: float,
    told: str,
) -> None:
    path, _ = packed(replace(SIX, grid=Grid(square_mm=square_mm)), sheets=False)
    assert told in " ".join(read(path, 4).split())


def test_squares_are_named_on_sheets(
    packed: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    path, plan = packed(replace(GRIDDED, support=Support(width_mm=180, height_mm=250)))
    assert plan.sheet_count == 1
    words = read(path, plan.first_sheet_page)
    for name in ("a1", "b2", "c4", "d5"):
        assert name in words


def test_where_a_name_is_wider_than_its_square_each_second_is_named(
    packed: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    """Not those that happen to have narrow letters: a gap would then mean nothing."""
    heavy = Grid(square_mm=5, line_mm=0.7)
    spec = Spec(support=Support(width_mm=180, height_mm=250), grid=heavy)
    path, plan = packed(spec)
    named = set(re.findall(r"\b[a-z]{1,2}\d{1,2}\b", read(path, plan.first_sheet_page)))
    every_second = {
        column_name(n) + str(row + 1) for n in range(0, 36, 2) for row in range(0, 50, 2)
    }
    assert named == every_second


def test_lines_that_would_hide_the_picture_in_small_are_left_out(
    packed: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    spec = Spec(support=Support(width_mm=1000, height_mm=700), grid=Grid(square_mm=5))
    path, _ = packed(spec, sheets=False)
    words = " ".join(read(path, 4).split())
    assert "One line in 2 is drawn here" in words
    # White rims and dark lines together leave most of the grey that lies below them.
    page = np.asarray(rasterise(path, 4, 300).convert("L"))
    inside = page[page.shape[0] // 3 : page.shape[0] * 2 // 3, page.shape[1] // 3 : -200]
    assert (np.abs(inside.astype(int) - 200) <= 8).mean() > 0.4
    path, _ = packed(GRIDDED, sheets=False)
    assert "is drawn here" not in " ".join(read(path, 4).split())


def test_no_name_is_tried_in_squares_that_are_too_small_for_any() -> None:
    class Measuring:
        def width(self, *_: object) -> float:
            pytest.fail("A wall in small has a hundred thousand squares to measure names for.")

    whole = Rect(0.0, 0.0, 3000.0, 2000.0)
    squares = square_grid(Size(whole.width, whole.height), 5.0)
    place = GridPlacement(part_mm=whole, area=whole, at=lambda point: point, scale=0.06)
    look = style_of_grid(Grid(square_mm=5.0), Tone())
    draw_square_names(Measuring(), squares, look, place)  # type: ignore[arg-type]


#: Width and height of a support, and the side of its squares: some tens, thousands, and few.
GRIDS = ((600, 400, 50), (300, 400, 5), (2000, 1000, 11), (90, 60, 100))


def with_grid(name: str, width: float, height: float, side: float) -> Spec:
    support = Support(width_mm=width, height_mm=height, border_mm=7)
    return Spec(support=support, sheet=Sheet(format=name), grid=Grid(square_mm=side))


@fold(("name", SHEET_FORMATS), ("grid", GRIDS))
def test_any_grid_has_its_two_pages_in_the_plan(
    pack: Callable[..., PackContent], name: str, grid: tuple[float, float, float]
) -> None:
    plan = pack(with_grid(name, *grid)).plan
    first = plan.first_grid_page + 2
    assert plan.first_sheet_page == first
    assert [piece.page for piece in plan.pieces] == list(range(first, plan.page_count + 1))


@pytest.mark.parametrize(
    ("name", "grid"), spread(list(SHEET_FORMATS), GRIDS, lambda name: area_of(SHEET_FORMATS[name]))
)
def test_any_grid_fits_its_pages(
    packed: Callable[..., Any], name: str, grid: tuple[float, float, float]
) -> None:
    """Drawn for a dozen: each grid on a small, a middling and a large sheet, each sheet once."""
    spec = with_grid(name, *grid)
    path, plan = packed(spec, sheets=False)
    margin = spec.sheet.margin_mm.left
    for page in (plan.first_grid_page, plan.first_grid_page + 1):
        grey = np.asarray(rasterise(path, page, 60).convert("L"))
        edge = int(margin / 25.4 * 60)
        outside = grey.copy()
        outside[edge:-edge, edge:-edge] = 255
        assert outside.min() == 255, (name, page)


def test_of_many_ticks_it_is_told_how_many_are_left_out(
    packed: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    support = Support(width_mm=400, height_mm=300)
    path, _ = packed(Spec(support=support, grid=Grid(square_mm=5)), sheets=False)
    assert "ONEIN2" in "".join(read(path, 5).split())


def test_ticks_count_the_border() -> None:
    found = ticks(edges(210, 50), 10, letters=True)
    assert [tick.place_mm for tick in found] == pytest.approx([10, 60, 110, 160, 210, 220])
    assert [tick.name for tick in found] == ["| a", "a | b", "b | c", "c | d", "d | e", "e |"]
    inside = ticks(edges(200, 50), 0, letters=False)
    assert [tick.name for tick in inside] == ["1 | 2", "2 | 3", "3 | 4"]
    # Of many, whole tens are told, and with a border its own edge and the last.
    many = ticks(edges(2002, 5), 0, letters=False)
    assert [tick.place_mm for tick in many] == [50 * number for number in range(1, 41)]
    bordered = ticks(edges(2002, 5), 3, letters=False)
    assert [tick.place_mm for tick in bordered][::41] == [3, 2005]


@pytest.mark.parametrize(
    ("length", "told"),
    [(25.4, "1″"), (12.7, "1/2″"), (63.5, "2 1/2″"), (500.0, "19 11/16″"), (25.3, "1″")],
)
def test_places_are_told_in_fractions_of_an_inch(length: float, told: str) -> None:
    assert measures_for("na_letter_8.5x11in").ruled(length) == told
    assert measures_for("iso_a4_210x297mm").ruled(length) == f"{length:.1f}"


def test_the_key_of_tones_is_on_map_and_sheets(
    packed: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    path, plan = packed(in_style("values"), Aids(tones=TONES))
    page = read(path, 1)
    assert "TONES" in page
    for share in ("30%", "20%", "25%", "24%", "<1%"):
        assert share in page.replace(" ", "")
    assert "tones" in read(path, plan.first_sheet_page)
    # Each grey stands on the map as it is printed in the picture.
    found = np.asarray(rasterise(path, 1, 150).convert("L"))
    for grey in TONES.greys:
        assert (np.abs(found.astype(int) - grey) <= 1).sum() > 500


def test_shares_are_told_in_whole_percent() -> None:
    assert [percent(words_for("en"), share) for share in (0.0, 0.004, 0.3, 1.0)] == [
        "0 %",
        "< 1 %",
        "30 %",
        "100 %",
    ]


def test_the_guide_tells_each_style_its_own(pack: Callable[..., PackContent]) -> None:
    assert "in black; no draft" in said(pack(in_style("outline")))
    assert "Heavy lines are the large shapes" in said(pack(in_style("outline")))
    assert "do not trace it" in said(pack(in_style("mixed")))
    assert "in grey" in said(pack(in_style("mixed")))
    values = said(pack(replace(SIX, tone=Tone(style="values", values=Values(count=4)))))
    assert "Choose or mix the 4 tones" in values
    assert "which the support does not give" not in values
    dark = replace(SIX.support, tone="dark")
    values_on_dark = replace(SIX, support=dark, tone=Tone(style="values", values=Values(count=4)))
    assert "4 too, which the support does not give" in said(pack(values_on_dark))
    assert "1 is the darkest" in values
    assert "Heavy lines" not in said(pack(SIX))
    assert "Pages 4 and 5 have the grid" in said(pack(GRIDDED))


def test_the_printer_is_named(
    pack: Callable[..., PackContent], packed: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    corrected = replace(SIX, print=Print(down_correction=1.0012, printer="Studio **laser**"))
    assert "corrected for Studio laser: × 1.0000 across, × 1.0012 down" in said(pack(corrected))
    true = replace(SIX, print=Print(printer="Studio laser"))
    assert "made for Studio laser, which prints correctly" in said(pack(true))
    path, plan = packed(true)
    assert "for Studio laser" in read(path, plan.first_sheet_page)


@fold(("name", SHEET_FORMATS), ("style", ["outline", "mixed", "values"]))
def test_the_guide_fits_two_pages_in_every_style(
    pack: Callable[..., PackContent], name: str, style: ToneStyle
) -> None:
    spec = Spec(
        support=Support(width_mm=1200, height_mm=800, border_mm=12),
        sheet=Sheet(format=name),
        tone=Tone(style=style),
        grid=Grid(square_mm=100),
        print=Print(across_correction=1.004, printer="The large laser on the second floor"),
    )
    for page in guide_pages(pack(spec)):
        assert page.spare >= 0
        # Six points is what contracts and medicine leaflets go down to (common practice).
        assert page.size_pt >= 6.0
