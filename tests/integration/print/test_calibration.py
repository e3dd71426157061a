"""A printer that is off, shown from end to end: its test page is measured, its packs come true.

The printer is simulated outside the project: PDFium renders a page at 600 ppi, and OpenCV
scales it by factors that a printer's paper feed and optics have, and blanks the border that
it cannot reach. The bars are found in that print by their ticks, read to a tenth of a
millimetre, and entered; then a pack with the corrections is printed by the same printer, and
a grid that the photo showed is measured on its sheets. The staircases are read by looking
for whole blocks (connected components), not by knowing where they were drawn.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import pikepdf
import pypdfium2
import pytest

from tests.pictures.photographs import as_png
from worker.layout.measuring.printer_readings import (
    bars_of,
    judge,
    margins_of_steps,
    usable_correction,
)
from worker.layout.planning import plan_sheets
from worker.make.pack import make_pack
from worker.pages.calibration.page import write_test_page
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.spec.formats import sheet_format
from worker.spec.plan import Edge
from worker.spec.spec import Margins, Print, Seams, Sheet, Spec, Support
from worker.spec.study import ReferenceStudy

PPI = 600
PX_PER_MM = PPI / 25.4
A4, A5, LETTER = "iso_a4_210x297mm", "iso_a5_148x210mm", "na_letter_8.5x11in"
Page = npt.NDArray[np.uint8]
#: The photo shows a line every so many millimetres of the picture.
GRID_MM = 20.0


@dataclass(frozen=True, kw_only=True)
class Printer:
    """What a printer does: lengths across and down, and what it leaves blank, in mm."""

    across: float = 1.0
    down: float = 1.0
    blank: Margins = Margins(top=0, right=0, bottom=0, left=0)  # noqa: RUF009 -- It is frozen.

    def prints(self, page: Page) -> Page:
        """A page as it comes out: scaled about its middle, the border blank."""
        out = self._scaled(page)
        high, wide = page.shape
        top, bottom = int(self.blank.top * PX_PER_MM), int(self.blank.bottom * PX_PER_MM)
        left, right = int(self.blank.left * PX_PER_MM), int(self.blank.right * PX_PER_MM)
        out[:top], out[high - bottom :] = 255, 255
        out[:, :left], out[:, wide - right :] = 255, 255
        return out

    def _scaled(self, page: Page) -> Page:
        if self.across == self.down == 1:
            return page.copy()
        high, wide = page.shape
        # OpenCV counts from the middle of the first pixel.
        middle_x, middle_y = (wide - 1) / 2, (high - 1) / 2
        matrix = np.array(
            [
                [self.across, 0, middle_x * (1 - self.across)],
                [0, self.down, middle_y * (1 - self.down)],
            ]
        )
        out = cv2.warpAffine(page, matrix, (wide, high), flags=cv2.INTER_AREA, borderValue=255)
        return np.asarray(out, dtype=np.uint8)


def pages_of(pdf: Path) -> Iterator[Page]:
    """Every page in grey."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            yield page.render(scale=PPI / 72, grayscale=True).to_numpy().copy()
    finally:
        document.close()


def lines_in(strip: Page) -> npt.NDArray[np.float64]:
    """Middles of the dark lines that run through a strip from top to bottom, in mm from its left.

    To a fraction of a pixel: the centre of gravity of each line's own darkness.
    """
    dark = 255.0 - strip.mean(axis=0)
    is_line = np.concatenate(([0], dark > max(dark.max() / 3, 40), [0])).astype(int)
    edges = np.flatnonzero(np.diff(is_line))
    middles = []
    for start, end in edges.reshape(-1, 2):
        around = np.arange(max(start - 3, 0), min(end + 3, dark.size))
        middles.append(np.average(around + 0.5, weights=dark[around]) / PX_PER_MM)
    return np.array(middles)


def bar_across(print_: Page) -> float:
    """The bar across, from end to end, or from ring to ring, as someone reads it to 0.1 mm.

    It is the lowest long line of the page. Of what crosses a strip 2 to 3 mm below it, ticks
    end before 5 mm, and the other bar does not. The ring of a tick lies 4 to 5 mm above.
    """
    row = int(np.flatnonzero((print_ < 128).sum(axis=1) > 100 * PX_PER_MM).max())

    def strip(start_mm: float) -> Page:
        first = row + round(start_mm * PX_PER_MM)
        return print_[first : first + round(PX_PER_MM)]

    far, rings = lines_in(strip(5)), strip(-5)
    ends: list[float] = []
    ringed: list[float] = []
    for middle in lines_in(strip(2)):
        if np.abs(far - middle).min(initial=np.inf) > 0.3:
            around = slice(round((middle - 1.5) * PX_PER_MM), round((middle + 1.5) * PX_PER_MM))
            (ringed if (rings[:, around] < 128).any() else ends).append(float(middle))
    read = ends if len(ends) == 2 else ringed
    assert len(read) == 2
    return round(read[1] - read[0], 1)


def bar_down(print_: Page) -> float:
    """The bar down likewise: the rightmost long line, and its ticks to the right of it."""
    return bar_across(np.ascontiguousarray(print_.T))


def first_whole_steps(print_: Page) -> dict[Edge, int]:
    """On each edge the first block of the staircase that is printed whole, by its distance."""
    turns: dict[Edge, int] = {"top": 0, "right": 1, "bottom": 2, "left": 3}
    return {edge: _first_at_top(np.rot90(print_, turn)) for edge, turn in turns.items()}


def _first_at_top(print_: Page) -> int:
    band = np.ascontiguousarray(print_[: round(22 * PX_PER_MM)] < 128).astype(np.uint8)
    _, _, stats, _ = cv2.connectedComponentsWithStats(band, connectivity=4)
    whole = [
        top
        for _, top, wide, high, area in stats[1:]
        # A block is a millimetre thick and wider than that; figures are not filled.
        if 0.96 < high / PX_PER_MM < 1.06 and 2 < wide / PX_PER_MM < 5 and area > 0.95 * wide * high
    ]
    return round(min(whole) / PX_PER_MM)


def measured(printer: Printer, name: str, folder: Path) -> Spec:
    """The spec of a job on this printer, after someone measured its test page."""
    sheet = sheet_format(name)
    path = folder / "test page.pdf"
    write_test_page(path, sheet)
    (page,) = pages_of(path)
    print_, bars = printer.prints(page), bars_of(sheet)
    across = judge(bar_across(print_), bars.across_mm)
    down = judge(bar_down(print_), bars.down_mm)
    margins = margins_of_steps(first_whole_steps(print_))
    return Spec(
        support=Support(width_mm=300, height_mm=200),
        sheet=Sheet(format=name, margin_mm=margins),
        # Seams between lines of the grid leave narrow pieces, on which there is nothing to measure.
        seams=Seams(placement="even"),
        print=Print(
            across_correction=usable_correction(across, "across_mm"),
            down_correction=usable_correction(down, "down_mm"),
        ),
    )


@dataclass(frozen=True)
class Taken:
    """A photo that was taken in."""

    folder: Path
    study: ReferenceStudy


@pytest.fixture(scope="module")
def squares(tmp_path_factory: pytest.TempPathFactory) -> Taken:
    """A photo of a grid with a line every 20 mm."""
    folder = tmp_path_factory.mktemp("squares")
    photo = np.full((2000, 3000), 235, np.uint8)
    for at in range(200, 3000, 200):
        photo[:, at - 2 : at + 2] = 20
    for at in range(200, 2000, 200):
        photo[at - 2 : at + 2] = 20
    return Taken(folder, take_in(io.BytesIO(as_png(photo)), folder, Limits()).study)


def pack_of(spec: Spec, photo: Taken, folder: Path) -> Path:
    """A pack of a photo, in process."""
    plan, master = plan_sheets(spec, photo.study), photo.folder / "master.zip"
    return make_pack(master, spec, plan, title="Grid", folder=folder).pack_pdf


def grids(pdf: Path, printer: Printer) -> Iterator[tuple[float, float]]:
    """Of every sheet: what its printed grid measures, in shares of what it should."""
    with pikepdf.open(pdf) as document:
        leaves = [(leaf.get("/TrimBox"), float(leaf.MediaBox[3])) for leaf in document.pages]
    for page, (trim, high_pt) in zip(pages_of(pdf), leaves, strict=True):
        if trim is None:
            continue
        left, bottom, right, top = (float(side) / 72 * PPI for side in trim)
        high = high_pt / 72 * PPI
        # Well inside the piece, so that neither cut nor shift reaches it.
        inside = round(6 * PX_PER_MM)
        rows = slice(round(high - top) + inside, round(high - bottom) - inside)
        columns = slice(round(left) + inside, round(right) - inside)
        piece = printer.prints(page)[rows, columns]
        yield share(piece), share(np.ascontiguousarray(piece.T))


def share(piece: Page) -> float:
    """How far apart the first and the last line across are, in shares of the true distance."""
    # Between two lines that run across, where only those that run down are dark.
    light = np.flatnonzero(piece.mean(axis=1) > 200)
    row = light[len(light) // 2]
    strip = piece[max(row - 4, 0) : row + 4]
    lines = lines_in(strip)
    assert len(lines) >= 3
    assert all(abs(after - before - GRID_MM) < 1 for before, after in pairwise(lines))
    return float(lines[-1] - lines[0]) / (GRID_MM * (len(lines) - 1))


@pytest.mark.parametrize(
    ("name", "printer"),
    [
        (A4, Printer(across=0.9943, down=1.0061)),
        (A4, Printer(across=1.0112, down=0.9871)),
        (LETTER, Printer(across=0.985, down=0.9962)),
        (A5, Printer(across=1.0065, down=0.9935)),
    ],
)
def test_a_corrected_pack_comes_out_true(
    squares: Taken, tmp_path: Path, name: str, printer: Printer
) -> None:
    spec = measured(printer, name, tmp_path)
    assert spec.print.across_correction == pytest.approx(1 / printer.across, abs=6e-4)
    assert spec.print.down_correction == pytest.approx(1 / printer.down, abs=6e-4)
    true = list(grids(pack_of(spec, squares, tmp_path), printer))
    assert len(true) >= 2
    for across, down in true:
        assert across == pytest.approx(1, abs=0.001)
        assert down == pytest.approx(1, abs=0.001)


def test_without_corrections_it_does_not(squares: Taken, tmp_path: Path) -> None:
    printer = Printer(across=0.9943, down=1.0061)
    spec = replace(measured(printer, A4, tmp_path), print=Print())
    for across, down in grids(pack_of(spec, squares, tmp_path), printer):
        assert across == pytest.approx(0.9943, abs=0.0005)
        assert down == pytest.approx(1.0061, abs=0.0005)


@pytest.mark.parametrize(
    "blank",
    [
        Margins(top=0, right=0, bottom=0, left=0),
        Margins(top=3, right=3, bottom=3, left=3),
        # From inkjets and lasers (common practice), and a quarter and half an inch.
        Margins(top=1.8, right=3.4, bottom=6.7, left=3.4),
        Margins(top=4.2, right=6.35, bottom=12.7, left=5.5),
        Margins(top=10, right=9.1, bottom=17.9, left=0.4),
    ],
)
def test_margins_are_read_off_the_staircase_and_keep_a_pack_whole(
    squares: Taken, tmp_path: Path, blank: Margins
) -> None:
    printer = Printer(blank=blank)
    spec = measured(printer, A4, tmp_path)
    for edge in ("top", "right", "bottom", "left"):
        read = getattr(spec.sheet.margin_mm, edge)
        assert read == math.ceil(getattr(blank, edge) - 1e-9)
    for page in pages_of(pack_of(spec, squares, tmp_path)):
        # Nothing that is drawn lies where this printer prints nothing.
        assert np.array_equal(printer.prints(page), page)


def test_a_fitted_page_is_named_and_not_compensated(tmp_path: Path) -> None:
    path = tmp_path / "test page.pdf"
    write_test_page(path, sheet_format(A4))
    (page,) = pages_of(path)
    # A4 fitted to margins of 5 mm all round: 200 of 210 mm.
    print_ = Printer(across=200 / 210, down=200 / 210).prints(page)
    for reading in (bar_across(print_), bar_down(print_)):
        assert judge(reading, 200).verdict == "page-fitting"
    # All steps lie within what is printed, which a person may notice first.
    assert set(first_whole_steps(print_).values()) != {0}
