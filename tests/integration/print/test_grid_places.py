"""Grid lines measured on rendered sheets and read back from the file: to 0.05 mm.

PDFium and Poppler render each sheet; the middle of each line's dark core is found by its
weight of ink, and held against the square's side times the line's number.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from PIL import Image

from tests.prints.joined import Made, Page, Values, by_pdfium, by_poppler, joined
from worker.layout.planning import plan_sheets
from worker.pages.pack import PackText, PrintedPiece, write_pack
from worker.pdf.indexed_image import index_image
from worker.spec.plan import Piece, Plan
from worker.spec.spec import Grid, Print, Seams, Sheet, Spec, Support
from worker.spec.study import DetailLevel, ReferenceStudy

TOLERANCE_MM = 0.05
#: Poppler moves thin lines to whole pixels of its own, which are 0.03 mm here. PDFium does not.
FINE_PPI = {by_pdfium: 450.0, by_poppler: 900.0}
#: A line is looked for along all of its length, every so many millimetres.
EACH_MM = 0.2
A5 = Sheet(format="iso_a5_148x210mm")
PLAIN = Spec(support=Support(width_mm=250, height_mm=330), sheet=A5, grid=Grid(square_mm=35))
JOBS = {
    "plain": PLAIN,
    "turned, lap": replace(
        PLAIN,
        support=Support(width_mm=300, height_mm=210, border_mm=7.3),
        seams=Seams(joint="lap", lap_mm=8.0),
        grid=Grid(square_mm=41.3, line_mm=0.25),
    ),
    "corrected": replace(PLAIN, print=Print(across_correction=1.012, down_correction=0.991)),
    "letter, inches": replace(
        PLAIN,
        support=Support(width_mm=381.0, height_mm=177.8),
        sheet=Sheet(format="na_letter_8.5x11in"),
        grid=Grid(square_mm=50.8),
    ),
}


def planned(spec: Spec) -> Plan:
    strewn = np.random.default_rng(3).random((48, 72)).astype(np.float32) ** 4
    level = DetailLevel(density=strewn, pixel_size_px=16.0)
    thumb = np.full((64, 96), 128, np.uint8)
    study = ReferenceStudy(width_px=6000, height_px=4000, levels=(level,), thumb=thumb)
    return plan_sheets(spec, study)


def written(spec: Spec, folder: Path, grey: int) -> Made:
    """A pack of a picture that is one flat grey."""
    plan, tone = planned(spec), Image.new("L", (40, 40), grey)
    path = folder / "pack.pdf"
    write_pack(
        path,
        spec=spec,
        plan=plan,
        text=PackText(title="Squares", number="7K3F-Q2ZD"),
        faint=None,
        small=tone,
        printed=(PrintedPiece(piece, indexed=index_image(tone)) for piece in plan.pieces),
    )
    return Made(path, spec, plan)


def expected_mm(piece: Piece, side_mm: float, *, across: bool) -> list[float]:
    """Where lines cross the page (across) or stand below one another, by the plan."""
    whole, cut = piece.picture_rect_mm, piece.sheet_rect_mm
    upright = across is (piece.turned_deg == 0)
    start, length = (whole.left, whole.width) if upright else (whole.top, whole.height)
    numbers = range(int(np.ceil((start + 2) / side_mm)), int((start + length - 2) / side_mm) + 1)
    # The rim of the dashed line where a neighbour's edge comes to lie may cover a grid line.
    lap = start + length - (piece.lap_right_mm if upright else piece.lap_bottom_mm)
    places = [number * side_mm for number in numbers if abs(number * side_mm - lap) > 1]
    shares = [(place - start) / length for place in places]
    if across and piece.turned_deg:
        shares = [1 - share for share in shares]
    first, extent = (cut.left, cut.width) if across else (cut.top, cut.height)
    return sorted(first + share * extent for share in shares)


def measured_mm(profile: Values, per_mm: float, near_mm: float) -> float:
    """The middle of the dark core within 0.6 mm of a place."""
    first, last = round((near_mm - 0.6) * per_mm), round((near_mm + 0.6) * per_mm)
    window = profile[first:last]
    dark = np.clip(window.max() - window, 0, None)
    dark[dark < dark.max() / 4] = 0
    return float((dark * (np.arange(first, last) + 0.5)).sum() / dark.sum()) / per_mm


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("render", [by_pdfium, by_poppler])
def test_lines_stand_where_their_number_says(
    job: str, render: Callable[..., Page], tmp_path: Path
) -> None:
    made = written(JOBS[job], tmp_path, 255)
    side, found = JOBS[job].grid.square_mm, 0
    for piece in made.plan.pieces:
        page, cut = render(made.pdf, piece.page, FINE_PPI[render]), piece.sheet_rect_mm
        per_mm = page.shape[1] / made.plan.sheet.width_mm
        each = round(EACH_MM * per_mm)
        rows = slice(round((cut.top + 1) * per_mm), round((cut.bottom - 1) * per_mm))
        columns = slice(round((cut.left + 1) * per_mm), round((cut.right - 1) * per_mm))
        for across, profile in (
            (True, np.median(page[rows, :][::each], axis=0)),
            (False, np.median(page[:, columns][:, ::each], axis=1)),
        ):
            for place in expected_mm(piece, side, across=across):
                assert measured_mm(profile, per_mm, place) == pytest.approx(place, abs=TOLERANCE_MM)
                found += 1
    assert found > 10


@pytest.mark.parametrize("grey", [0, 70, 128, 190, 255])
def test_the_grid_reads_on_any_tone(grey: int, tmp_path: Path) -> None:
    """Core or rim stands out from the picture by half of all there is."""
    made = written(PLAIN, tmp_path, grey)
    whole, covered = joined(made, by_pdfium)
    assert covered.all()
    profile = np.median(whole[20:-20], axis=0)
    for line in range(1, 7):
        window = profile[round((line * 35 - 0.6) * 7.874) : round((line * 35 + 0.6) * 7.874)]
        assert np.abs(window - grey).max() > 60


def test_the_gridded_reference_is_at_the_scale_that_the_plan_tells(tmp_path: Path) -> None:
    """Lines read back from the file with pikepdf, through the matrix of the page on its side."""
    spec = JOBS["letter, inches"]
    made = written(spec, tmp_path, 255)
    with pikepdf.open(made.pdf) as pdf:
        places = upright_lines_mm(pdf.pages[3])
    wanted = spec.grid.square_mm / made.plan.grid.enlargement
    steps = np.diff(np.unique(np.round(places, 3)))
    assert len(steps) == made.plan.grid.columns - 2
    assert steps == pytest.approx(wanted, abs=0.01)


def upright_lines_mm(page: pikepdf.Page) -> list[float]:
    """Where upright lines longer than 8 cm stand on a page that is read on its side."""
    matrix, stack, start, found = pikepdf.Matrix(), [], (0.0, 0.0), []
    for step in pikepdf.parse_content_stream(page):
        operator, numbers = str(step.operator), step.operands
        if operator == "q":
            stack.append(matrix)
        elif operator == "Q":
            matrix = stack.pop()
        elif operator == "cm":
            matrix = pikepdf.Matrix(*(float(value) for value in numbers)) @ matrix
        elif operator in {"m", "l"}:
            a, b, c, d, e, f = matrix.shorthand
            x, y = (float(value) * 25.4 / 72 for value in numbers)
            here = a * x + c * y + e * 25.4 / 72, b * x + d * y + f * 25.4 / 72
            if operator == "l" and abs(here[1] - start[1]) < 0.01 and abs(here[0] - start[0]) > 80:
                found.append(here[1])
            start = here
    return found
