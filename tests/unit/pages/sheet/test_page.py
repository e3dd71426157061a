"""What is printed on a sheet page, seen by PDFium and read by Poppler."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from PIL import Image

from worker.pages.pack_content import PackContent, SheetPage
from worker.pdf.raster import rasterise
from worker.spec.plan import Piece, Rect
from worker.spec.spec import Margins, Print, Seams, Sheet, Spec, Support, Tone

PPI = 300
PX = PPI / 25.4
MIXED = Spec(support=Support(width_mm=600, height_mm=800), seams=Seams(arrangement="staggered"))


def grey(path: Path, page: int, ppi: float = PPI) -> np.ndarray:
    return np.asarray(rasterise(path, page, ppi).convert("L"))


def inside(page: np.ndarray, rect: Rect, inset_mm: float = 0.0) -> np.ndarray:
    top, bottom = (rect.top + inset_mm) * PX, (rect.bottom - inset_mm) * PX
    left, right = (rect.left + inset_mm) * PX, (rect.right - inset_mm) * PX
    return page[int(np.ceil(top)) : int(bottom), int(np.ceil(left)) : int(right)]


@pytest.mark.parametrize(
    "spec",
    [
        MIXED,
        Spec(
            support=Support(width_mm=300, height_mm=300),
            sheet=Sheet(
                format="iso_a5_148x210mm", margin_mm=Margins(top=10, right=8, bottom=18, left=9)
            ),
        ),
        Spec(
            support=Support(width_mm=558.8, height_mm=762),
            sheet=Sheet(format="na_letter_8.5x11in"),
            print=Print(across_correction=1.012, down_correction=0.991),
        ),
    ],
    ids=["a4", "a5", "letter"],
)
def test_ink_stays_outside_the_piece_and_inside_the_margins(
    make: Callable[..., Any], spec: Spec
) -> None:
    made = make(replace(spec, seams=replace(spec.seams, register_marks=False)))
    margin, sheet = spec.sheet.margin_mm, made.plan.sheet
    for piece in made.plan.pieces:
        page = grey(made.path, piece.page)
        # One pixel at the edge is shared with the hairline outside it.
        assert inside(page, piece.sheet_rect_mm, 1 / PX).min() == 255
        printable = np.full_like(page, 255)
        rows = slice(int(margin.top * PX), int(np.ceil((sheet.height_mm - margin.bottom) * PX)))
        columns = slice(int(margin.left * PX), int(np.ceil((sheet.width_mm - margin.right) * PX)))
        printable[rows, columns] = page[rows, columns]
        assert np.array_equal(printable, page), piece.label


def filled_rectangles(path: Path, page: int) -> list[Rect]:
    """The filled rectangles of a page, in millimetres from its top left, read with pikepdf."""
    with pikepdf.open(path) as pdf:
        height = float(pdf.pages[page - 1].mediabox[3])
        steps = pikepdf.parse_content_stream(pdf.pages[page - 1])
        found = [
            [float(number) for number in before.operands]
            for before, after in pairwise(steps)
            if str(before.operator) == "re" and str(after.operator).startswith("f")
        ]
    mm = 25.4 / 72
    return [
        Rect(x * mm, (height - y - high) * mm, wide * mm, high * mm) for x, y, wide, high in found
    ]


def test_cut_lines_touch_the_piece_from_outside(make: Callable[..., Any]) -> None:
    made = make(MIXED)
    for piece in made.plan.pieces:
        cut = piece.sheet_rect_mm
        bars = filled_rectangles(made.path, piece.page)
        for bar in bars:
            beside = bar.right <= cut.left + 0.001 or bar.left >= cut.right - 0.001
            assert beside or bar.bottom <= cut.top + 0.001 or bar.top >= cut.bottom - 0.001
        along = [bar for bar in bars if bar.width == pytest.approx(cut.width, abs=0.001)]
        head = any(bar.bottom == pytest.approx(cut.top, abs=0.001) for bar in along)
        # A flap has a dashed line, along which nobody cuts.
        assert head is (piece.flap != "top")
        assert any(bar.top == pytest.approx(cut.bottom, abs=0.001) for bar in along)
        ticks = [bar for bar in bars if bar.width < 0.2 < bar.height]
        for edge, side in (("left", cut.left), ("right", cut.right)):
            if piece.flap == edge:
                continue
            # A tick's one side stands on the cut.
            on_cut = [t for t in ticks if min(abs(t.left - side), abs(t.right - side)) < 0.001]
            assert any(tick.bottom <= cut.top + 0.001 for tick in on_cut)
            assert any(tick.top >= cut.bottom - 0.001 for tick in on_cut)
        assert all(bar.height == pytest.approx(0.18, abs=0.001) for bar in along)


@pytest.mark.parametrize(
    ("name", "true_mm", "across"),
    [("iso_a4_210x297mm", 100.0, 1.0), ("na_letter_8.5x11in", 4 * 25.4, 1.0123)],
)
def test_scale_bar_measures_its_true_length_through_the_printers_error(
    make: Callable[..., Any], across: float, name: str, true_mm: float
) -> None:
    spec = Spec(
        support=Support(width_mm=500, height_mm=500),
        sheet=Sheet(format=name),
        print=Print(across_correction=across),
    )
    made = make(spec)
    page = grey(made.path, 4, 600)
    scale = 600 / 25.4
    y = made.plan.sheet.height_mm - spec.sheet.margin_mm.bottom - 4.0 + 1.6 + 0.8
    # From its one end to its other; its figure stands further right.
    dark = np.flatnonzero(page[round(y * scale), : round(125 * scale)] < 128) / scale
    bar = dark[dark > 6]
    runs = np.split(bar, np.flatnonzero(np.diff(bar) > 1.0) + 1)
    length = runs[0].max() - runs[0].min() + 1 / scale
    # A printer that shrinks by the inverse of its correction prints the true length.
    assert length / across == pytest.approx(true_mm, abs=0.1)


def test_page_says_what_joining_takes(
    make: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    made = make(MIXED)
    for piece in made.plan.pieces:
        words = read(made.path, piece.page)
        assert piece.label in words
        for labels in piece.neighbours.values():
            for label in labels:
                assert label in words
        assert "pack 7K3F-Q2ZD" in words
        assert f"page {piece.page} of {3 + made.plan.sheet_count}" in words
        assert "100 mm" in words
        assert "top" in words
        assert "Still life with a pear" in words


def test_the_top_row_has_a_flap_and_says_so(
    make: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    made = make(MIXED)
    for piece in made.plan.pieces:
        said = "do not cut" in read(made.path, piece.page)
        assert said is (piece.row == 0), piece.label
        assert (piece.flap is not None) is said
    one = make(Spec(support=Support(width_mm=260, height_mm=190)))
    assert "flap at the right: hinge there, do not cut" in read(one.path, one.plan.first_sheet_page)


def test_corrections_are_stated(make: Callable[..., Any], read: Callable[[Path, int], str]) -> None:
    spec = Spec(
        support=Support(width_mm=300, height_mm=200),
        print=Print(across_correction=1.0123, down_correction=0.9911),
    )
    made = make(spec)
    assert "corrected × 1.0123, × 0.9911" in read(made.path, 4)
    piece = made.plan.pieces[0]
    longer = max(piece.picture_rect_mm.width, piece.picture_rect_mm.height)
    assert f"{longer:.1f} mm" in read(made.path, 4)


def test_lap_is_marked_where_the_neighbours_edge_lies(
    make: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    seams = Seams(joint="lap", lap_mm=8, register_marks=False)
    made = make(Spec(support=Support(width_mm=600, height_mm=400), seams=seams))
    for piece in made.plan.pieces:
        laps = sum(lap > 0 for lap in (piece.lap_right_mm, piece.lap_bottom_mm))
        page = inside(grey(made.path, piece.page), piece.sheet_rect_mm, 0.3)
        assert (page.min() < 128) == (laps > 0)
    corner = made.plan.pieces[0]
    assert "lap: under 1·2" in read(made.path, corner.page)


def test_turned_piece_shows_the_photograph_turned_clockwise(
    make: Callable[..., Any], photo: Callable[[Piece], Image.Image]
) -> None:
    made = make(Spec(support=Support(width_mm=260, height_mm=190)), draw=photo)
    (piece,) = made.plan.pieces
    assert piece.turned_deg == 90
    seen = Image.fromarray(inside(grey(made.path, piece.page, PPI), piece.sheet_rect_mm))
    upright = seen.transpose(Image.Transpose.ROTATE_90)
    wanted = np.asarray(photo(piece).resize(upright.size), dtype=float)
    assert np.corrcoef(np.asarray(upright, dtype=float).ravel(), wanted.ravel())[0, 1] > 0.99


def test_neighbours_are_named_in_the_pages_frame(pack: Callable[..., PackContent]) -> None:
    pack = pack(Spec(support=Support(width_mm=600, height_mm=400)))
    upright = next(piece for piece in pack.plan.pieces if piece.label == "1·2")
    whole = upright.picture_rect_mm
    turned = Rect(5, 15, whole.height, whole.width)
    piece = replace(upright, turned_deg=90, sheet_rect_mm=turned)
    frame = SheetPage(pack=pack, piece=piece)
    # Turned clockwise the picture's top is at the right, its left at the top.
    assert frame.neighbours("top") == ("1·1",)
    assert frame.neighbours("bottom") == ("1·3",)
    assert frame.neighbours("left") == ("2·2",)
    assert frame.neighbours("right") == ()
    # And its top left corner at the page's top right.
    cut = frame.cut
    assert frame.on_page(0, 0) == pytest.approx((cut.right, cut.top))
    assert frame.on_page(piece.picture_rect_mm.width, 0) == pytest.approx((cut.right, cut.bottom))


def test_colour_sheets_keep_the_accent(make: Callable[..., Any]) -> None:
    made = make(
        Spec(support=Support(width_mm=300, height_mm=200), tone=Tone(style="colour")),
        draw=lambda _: Image.new("RGB", (200, 100), "white"),
    )
    page = np.asarray(rasterise(made.path, 4, 100)).astype(int)
    assert (page[..., 0] - page[..., 2] > 60).any()


def test_the_head_keeps_clear_of_the_cut(make: Callable[..., Any]) -> None:
    """A letter that touches the hairline is cut through by whoever cuts a little high."""
    made = make(Spec(support=Support(width_mm=600, height_mm=400)))
    for piece in made.plan.pieces:
        cut, px = piece.sheet_rect_mm, 300 / 25.4
        rows = slice(round((cut.top - 0.45) * px), round((cut.top - 0.3) * px))
        columns = slice(round((cut.left + 2) * px), round((cut.right - 2) * px))
        assert grey(made.path, piece.page, 300)[rows, columns].min() == 255, piece.label
