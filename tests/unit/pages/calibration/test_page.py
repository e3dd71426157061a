"""The test page of every sheet format: one page, true lengths, nothing over anything else."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest

from worker.layout.measuring.printer_readings import LAST_STEP_MM, bars_of
from worker.pages.calibration.layout import TICK_MM, CalibrationLayout
from worker.pages.calibration.page import write_test_page
from worker.spec.formats import SHEET_FORMATS, SheetFormat, sheet_format
from worker.spec.plan import EDGES, Rect
from worker.spec.strokes import PEN_WIDTHS_MM

PPI = 300
PX_PER_MM = PPI / 25.4
EVERY = pytest.mark.parametrize("sheet", SHEET_FORMATS.values(), ids=lambda sheet: sheet.title)
#: ISO 32000-1, 8.3.2.3: a unit of user space is 1/72 in.
PT_PER_MM = 72 / 25.4


def page_of(folder: Path, sheet: SheetFormat) -> Path:
    path = folder / "page.pdf"
    write_test_page(path, sheet)
    return path


def rendered(path: Path) -> np.ndarray:
    document = pypdfium2.PdfDocument(path)
    try:
        return np.asarray(document[0].render(scale=PPI / 72).to_pil().convert("L"))
    finally:
        document.close()


def cut(picture: np.ndarray, area: Rect) -> np.ndarray:
    """What is within an area, less a pixel at each side."""
    left, right = round(area.left * PX_PER_MM) + 1, round(area.right * PX_PER_MM) - 1
    top, bottom = round(area.top * PX_PER_MM) + 1, round(area.bottom * PX_PER_MM) - 1
    return picture[top:bottom, left:right]


@EVERY
def test_it_is_one_page_that_asks_for_actual_size(tmp_path: Path, sheet: SheetFormat) -> None:
    with pikepdf.open(page_of(tmp_path, sheet)) as document:
        assert len(document.pages) == 1
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
        assert document.Root.ViewerPreferences.Duplex == "/Simplex"
        assert document.Root.ViewerPreferences.PickTrayByPDFSize is True
        assert str(document.Root.Lang) == "en"
        box = [float(side) for side in document.pages[0].MediaBox]
        wanted = [0, 0, sheet.width_mm * PT_PER_MM, sheet.height_mm * PT_PER_MM]
        assert box == pytest.approx(wanted, abs=0.01)


def test_the_same_page_has_the_same_bytes(tmp_path: Path) -> None:
    first = page_of(tmp_path, sheet_format("iso_a4_210x297mm")).read_bytes()
    assert page_of(tmp_path, sheet_format("iso_a4_210x297mm")).read_bytes() == first


@EVERY
def test_the_ticks_are_as_far_apart_as_they_say(sheet: SheetFormat) -> None:
    places, bars = CalibrationLayout(sheet=sheet), bars_of(sheet)
    for down, whole, side in (
        (False, bars.across_mm, sheet.width_mm),
        (True, bars.down_mm, sheet.height_mm),
    ):
        start, end = places.ends(down=down)
        assert end - start == pytest.approx(whole)
        assert min(start, side - end) >= 5 - 1e-9
        inner = places.ends(down=down, inner=True)
        assert inner[1] - inner[0] == pytest.approx(whole * 0.75)


def parts(places: CalibrationLayout) -> dict[str, Rect]:
    """What must stay clear of each other; the bars with their ticks."""
    start, end = places.ends(down=False)
    found = {
        "words": places.steps,
        "form": places.form,
        "samples": places.samples,
        "across": Rect(start, places.across_mm - TICK_MM, end - start, 2 * TICK_MM),
    }
    for edge in EDGES:
        first, last = places.step(edge, 0), places.step(edge, LAST_STEP_MM)
        left, top = min(first.left, last.left), min(first.top, last.top)
        right, bottom = max(first.right, last.right), max(first.bottom, last.bottom)
        found[edge] = Rect(left, top, right - left, bottom - top)
    return found


@EVERY
def test_nothing_lies_over_anything_else(sheet: SheetFormat) -> None:
    places = CalibrationLayout(sheet=sheet)
    found = parts(places)
    for one, other in itertools.combinations(found.values(), 2):
        apart_x = one.right <= other.left or other.right <= one.left
        apart_y = one.bottom <= other.top or other.bottom <= one.top
        assert apart_x or apart_y
    for area in found.values():
        assert min(area.left, area.top, area.width, area.height) >= 0
        assert area.right <= sheet.width_mm
        assert area.bottom <= sheet.height_mm
    # The bar down keeps clear of all but, on the smallest sheets, the bar across; where the
    # two cross, no tick that is read does.
    start, end = places.ends(down=True)
    del found["across"]
    for area in found.values():
        beside = area.right <= places.down_mm - TICK_MM or area.left >= places.down_mm + TICK_MM
        assert beside or area.bottom <= start or area.top >= end
    for along in (start, end, *places.ends(down=True, inner=True)):
        assert abs(along - places.across_mm) > TICK_MM
    for along in (*places.ends(down=False), *places.ends(down=False, inner=True)):
        over = start <= places.across_mm + TICK_MM and end >= places.across_mm - TICK_MM
        assert not over or abs(along - places.down_mm) > TICK_MM


@EVERY
def test_steps_begin_as_far_from_the_edge_as_they_say(tmp_path: Path, sheet: SheetFormat) -> None:
    picture, places = rendered(page_of(tmp_path, sheet)), CalibrationLayout(sheet=sheet)
    for edge in EDGES:
        for number in range(LAST_STEP_MM + 1):
            block = places.step(edge, number)
            outer = {
                "top": block.top,
                "left": block.left,
                "bottom": sheet.height_mm - block.bottom,
                "right": sheet.width_mm - block.right,
            }[edge]
            assert outer == pytest.approx(number)
            assert cut(picture, block).max() < 64


def test_words_and_samples_are_on_the_page(tmp_path: Path) -> None:
    path = page_of(tmp_path, sheet_format("na_letter_8.5x11in"))
    document = pypdfium2.PdfDocument(path)
    said = " ".join(document[0].get_textpage().get_text_range().split())
    document.close()
    for words in ("actual size", "steel rule", "8 in (203.2 mm)", "6 in (152.4 mm)", "Printer"):
        assert words in said
    for width_mm in PEN_WIDTHS_MM:
        assert f"{width_mm:g}" in said


@EVERY
def test_greys_go_from_blank_to_black_in_eleven_even_steps(
    tmp_path: Path, sheet: SheetFormat
) -> None:
    picture, area = rendered(page_of(tmp_path, sheet)), CalibrationLayout(sheet=sheet).samples
    # The strip is the only place in the samples with two fifths of black over its height.
    row = cut(picture, area)[round(0.78 * area.height * PX_PER_MM)]
    wide = row.size / 11
    middles = [int(row[round((number + 0.5) * wide)]) for number in range(11)]
    assert middles == pytest.approx([255 * (1 - number / 10) for number in range(11)], abs=1.5)


@EVERY
def test_pen_widths_are_true_in_black_and_blank(tmp_path: Path, sheet: SheetFormat) -> None:
    """Widths of ISO 9175-1, summed over the line's grey, so to a fraction of a pixel."""
    places = CalibrationLayout(sheet=sheet)
    picture, area, k = rendered(page_of(tmp_path, sheet)), places.samples, places.scale
    wide = area.width / len(PEN_WIDTHS_MM)
    for number, width_mm in enumerate(PEN_WIDTHS_MM):
        x = round((area.left + number * wide + (wide - 2 * k) * 0.6) * PX_PER_MM)
        top = area.top + 3.5 * k
        dark = 1 - picture[:, x].astype(float) / 255
        black = dark[round((top + 3.0 * k) * PX_PER_MM) : round((top + 5.9 * k) * PX_PER_MM)]
        assert black.sum() / PX_PER_MM == pytest.approx(width_mm, abs=0.05)
        blank = dark[round((top + 7 * k) * PX_PER_MM) : round((top + 11.5 * k) * PX_PER_MM)]
        assert (1 - blank).sum() / PX_PER_MM == pytest.approx(width_mm, abs=0.05)
