"""Boxes, images and bytes of a pack, read back with pikepdf (QPDF)."""

import itertools
import os
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pikepdf
import psutil
import pytest
from PIL import Image

from worker.pages.pack import PackText, PrintedPiece, write_pack, write_sheet
from worker.spec.plan import Piece
from worker.spec.spec import Grid, Print, Seams, Sheet, Spec, Support, Tone

PT_PER_MM = 72 / 25.4  # ISO 32000-1, 8.3.2.3
SIXTY_BY_FORTY = Spec(support=Support(width_mm=600, height_mm=400))
MIXED = Spec(
    support=Support(width_mm=600, height_mm=800),
    seams=Seams(arrangement="staggered", joint="lap", lap_mm=6),
    print=Print(across_correction=1.0123, down_correction=0.9911),
)


def close(found: Any, wanted_mm: float) -> bool:
    """Within a hundredth of a millimetre, as DESIGN.md promises."""
    return abs(float(found) / PT_PER_MM - wanted_mm) < 0.01


@pytest.mark.parametrize("spec", [SIXTY_BY_FORTY, MIXED], ids=["aligned", "staggered"])
def test_every_page_has_the_sheets_own_box_and_no_rotation(
    make: Callable[..., Any], spec: Spec
) -> None:
    made = make(spec)
    with pikepdf.open(made.path) as pdf:
        assert len(pdf.pages) == 3 + made.plan.sheet_count
        for page in pdf.pages:
            left, bottom, right, top = page.mediabox
            assert (left, bottom) == (0, 0)
            assert close(right, 210)  # ISO 216: A4 is 210 × 297 mm.
            assert close(top, 297)
            assert "/Rotate" not in page


@pytest.mark.parametrize("spec", [SIXTY_BY_FORTY, MIXED], ids=["aligned", "staggered"])
def test_trim_box_is_the_piece(make: Callable[..., Any], spec: Spec) -> None:
    made = make(spec)
    with pikepdf.open(made.path) as pdf:
        for piece in made.plan.pieces:
            box, rect = pdf.pages[piece.page - 1].TrimBox, piece.sheet_rect_mm
            assert close(box[0], rect.left)
            assert close(box[1], 297 - rect.bottom)
            assert close(box[2], rect.right)
            assert close(box[3], 297 - rect.top)


def image_matrix(page: pikepdf.Page) -> list[float]:
    """The matrix in force where the page shows its only image."""
    for before, operation in itertools.pairwise(pikepdf.parse_content_stream(page)):
        if str(operation.operator) == "Do":
            return [float(number) for number in before.operands]
    raise AssertionError


def test_pieces_lie_where_the_plan_says_upright_and_turned(make: Callable[..., Any]) -> None:
    made = make(MIXED)
    assert {piece.turned_deg for piece in made.plan.pieces} == {0, 90}
    with pikepdf.open(made.path) as pdf:
        for piece in made.plan.pieces:
            a, b, c, d, e, f = image_matrix(pdf.pages[piece.page - 1])
            rect = piece.sheet_rect_mm
            if piece.turned_deg:
                # The image's width runs down the page, its height to the right.
                assert (a, d) == (0, 0)
                assert close(-b, rect.height)
                assert close(c, rect.width)
                assert close(f, 297 - rect.top)
            else:
                assert (b, c) == (0, 0)
                assert close(a, rect.width)
                assert close(d, rect.height)
                assert close(f, 297 - rect.bottom)
            assert close(e, rect.left)


def labels_of(pdf: pikepdf.Pdf) -> list[str]:
    """What QPDF tells of each page."""
    return [page.label for page in pdf.pages]


def listed(pdf: pikepdf.Pdf) -> list[tuple[str, int]]:
    """Bookmarks of the first level, each with its page from 1."""
    with pdf.open_outline() as outline:
        return [
            (item.title, 1 + pdf.pages.index(pikepdf.Page(item.destination[0])))
            for item in outline.root
        ]


def test_it_asks_a_print_room_for_actual_size_one_side_and_its_own_paper(
    make: Callable[..., Any],
) -> None:
    """ISO 32000-1, table 150; Duplex and PickTrayByPDFSize came with PDF 1.7."""
    with pikepdf.open(make(SIXTY_BY_FORTY).path) as pdf:
        asked = pdf.Root.ViewerPreferences
        assert asked.PrintScaling == pikepdf.Name("/None")
        assert asked.Duplex == pikepdf.Name("/Simplex")
        assert asked.PickTrayByPDFSize is True
        assert str(pdf.Root.Lang) == "en"
        assert pdf.pdf_version == "1.7"


@pytest.mark.parametrize("gridded", [False, True])
def test_pages_and_bookmarks_are_named_as_the_pages_are(
    make: Callable[..., Any], *, gridded: bool
) -> None:
    spec = replace(MIXED, grid=Grid(square_mm=50) if gridded else None)
    made = make(spec, small=gridded)
    before = ["Map", "Guide 1", "Guide 2", *(["Grid 1", "Grid 2"] if gridded else [])]
    sheets = [piece.label for piece in sorted(made.plan.pieces, key=lambda piece: piece.page)]
    with pikepdf.open(made.path) as pdf:
        assert labels_of(pdf) == [*before, *sheets]
        grid = [("Grid", 4)] if gridded else []
        pages = [(piece.label, piece.page) for piece in made.plan.pieces]
        assert listed(pdf) == [("Map", 1), ("Guide", 2), *grid, *sorted(pages, key=lambda p: p[1])]
        assert pdf.Root.PageMode == "/UseOutlines"


@pytest.mark.parametrize(("style", "space"), [("grey", "/DeviceGray"), ("colour", "/DeviceRGB")])
def test_jpeg_goes_in_byte_for_byte(
    make: Callable[..., Any], photo: Callable[[Piece], Image.Image], style: str, space: str
) -> None:
    spec = replace(SIXTY_BY_FORTY, tone=Tone(style=style))
    mode = "L" if style == "grey" else "RGB"
    made = make(spec, draw=lambda piece: photo(piece).convert(mode))
    with pikepdf.open(made.path) as pdf:
        for piece in made.pieces:
            (image,) = pdf.pages[piece.piece.page - 1].Resources.XObject.values()
            assert image.read_raw_bytes() == piece.jpeg
            assert image.Filter == pikepdf.Name("/DCTDecode")
            assert image.ColorSpace == pikepdf.Name(space)


def test_file_is_sound(make: Callable[..., Any]) -> None:
    with pikepdf.open(make(MIXED).path) as pdf:
        assert pdf.check_pdf_syntax() == []


def test_same_job_gives_the_same_bytes(make: Callable[..., Any]) -> None:
    first, second = make(MIXED, name="one.pdf"), make(MIXED, name="two.pdf")
    assert first.path.read_bytes() == second.path.read_bytes()
    with pikepdf.open(first.path) as pdf:
        assert "/CreationDate" not in pdf.docinfo
        assert "/ModDate" not in pdf.docinfo


def test_grey_sheets_hold_no_colour(make: Callable[..., Any]) -> None:
    made = make(SIXTY_BY_FORTY)
    with pikepdf.open(made.path) as pdf:
        for page in list(pdf.pages)[3:]:
            used = {str(step.operator) for step in pikepdf.parse_content_stream(page)}
            assert not used & {"rg", "RG", "k", "K", "cs", "CS"}


def test_one_sheet_alone_is_the_same_page(make: Callable[..., Any], tmp_path: Path) -> None:
    made = make(MIXED)
    piece = made.pieces[4]
    path = tmp_path / "alone.pdf"
    write_sheet(
        path,
        spec=made.spec,
        plan=made.plan,
        text=PackText(title="Still life with a pear", number="7K3F-Q2ZD"),
        printed=piece,
    )
    with pikepdf.open(path) as alone, pikepdf.open(made.path) as pack:
        (page,) = alone.pages
        twin = pack.pages[piece.piece.page - 1]
        assert list(page.TrimBox) == list(twin.TrimBox)
        assert image_matrix(page) == image_matrix(twin)
        (image,) = page.Resources.XObject.values()
        assert image.read_raw_bytes() == piece.jpeg
        assert labels_of(alone) == [piece.piece.label]
        assert alone.Root.ViewerPreferences == pack.Root.ViewerPreferences


def test_title_stands_in_the_document(make: Callable[..., Any]) -> None:
    made = make(SIXTY_BY_FORTY, text=PackText(title="我的祖母\ud800\x00", number="7K3F-Q2ZD"))
    with pikepdf.open(made.path) as pdf:
        assert str(pdf.docinfo["/Title"]) == "我的祖母\ufffd (7K3F-Q2ZD)"


@pytest.mark.slow
def test_memory_does_not_grow_with_pages(make: Callable[..., Any], tmp_path: Path) -> None:
    """150 pages of 1 MB each: what ReportLab itself would hold twice until it saves."""
    mural = Spec(support=Support(width_mm=3000, height_mm=2600), sheet=Sheet())
    small = make(SIXTY_BY_FORTY)
    plan = replace(small.plan)
    process = psutil.Process(os.getpid())
    before, most = process.memory_info().rss, 0

    def pages() -> Iterator[PrintedPiece]:
        nonlocal most
        first = plan.pieces[0]
        for number in range(150):
            piece = replace(first, page=4 + number)
            yield PrintedPiece(piece, os.urandom(1_000_000), 900, 900, grey=True)
            most = max(most, process.memory_info().rss)

    path = tmp_path / "mural.pdf"
    faint = Image.new("L", (300, 200), 200)
    text = PackText(title="Mural", number="7K3F-Q2ZD")
    write_pack(path, spec=mural, plan=plan, text=text, faint=faint, printed=pages())
    most = max(most, process.memory_info().rss)
    assert path.stat().st_size > 150_000_000
    assert most - before < 20_000_000


#: Operators that may set a colour other than a grey (ISO 32000-1, table 74).
COLOUR_OPERATORS = {"rg", "RG", "k", "K", "cs", "CS", "sc", "SC", "scn", "SCN"}


def colours_on(page: pikepdf.Page) -> set[str]:
    """The colour operators and colour spaces of a page that are not a plain grey."""
    operators = {str(each.operator) for each in pikepdf.parse_content_stream(page)}
    spaces = {str(image.ColorSpace) for image in page.get_images().values()}
    return (operators & COLOUR_OPERATORS) | (spaces - {"/DeviceGray"})


def test_black_only_leaves_no_colour_on_map_guide_and_grid(make: Callable[..., Any]) -> None:
    """The map's picture is handed in in colour."""
    spec = replace(MIXED, grid=Grid(square_mm=50))
    for black_only in (False, True):
        made = make(replace(spec, print=Print(black_only=black_only)), small=True)
        with pikepdf.open(made.path) as pdf:
            found = [colours_on(page) for page in pdf.pages]
        assert len(found) == made.plan.page_count
        coloured = [number for number, colours in enumerate(found, start=1) if colours]
        assert coloured == ([] if black_only else [1, 2, 3, 4, 5])
