"""The test page of a sheet format: printed once for each printer, measured, written down.

One page in grey: bars and staircases to measure, samples to look at, what to do in plain
words, and boxes for what was measured, which is then given to Ricalco.
"""

from __future__ import annotations

from pathlib import Path

from worker.layout.measuring.printer_readings import ENGINE_ERROR, INNER_SHARE
from worker.pages.calibration.form import draw_form, draw_labelled_lines
from worker.pages.calibration.layout import CalibrationLayout
from worker.pages.calibration.marks import draw_bars, draw_stairs, length_in_words
from worker.pages.calibration.samples import draw_samples
from worker.pages.lengths import measures_for
from worker.pages.section import section
from worker.pdf.canvas import PdfCanvas
from worker.pdf.palette import SANGUINE, body, display, kicker, strong
from worker.pdf.typeset import LEADING, draw_line, lines
from worker.pdf.writer import PdfWriter
from worker.spec.formats import SheetFormat
from worker.spec.plan import Rect, Size
from worker.units import pt_to_mm
from worker.words.catalogue import words_for
from worker.words.languages import DEFAULT

#: Type is tried from the first size downwards, in points on A4.
_LARGEST_PT, _SMALLEST_PT, _STEP_PT = 9.6, 4.0, 0.1
#: In sizes of type: the numbers' column, and what stands between steps.
_NUMBER, _AFTER_STEP = 1.6, 0.4
#: What page fitting usually leaves of a length (common practice).
_FITTED = (0.94, 0.97)


def test_page_title(sheet: SheetFormat, language: str) -> str:
    """What the document is called."""
    return words_for(language)("test-page.name", sheet=sheet.title)


def write_test_page(path: Path, sheet: SheetFormat, language: str = DEFAULT) -> None:
    """Write the page as a PDF.

    Raises:
        OSError: The file cannot be written.
    """
    size = Size(sheet.width_mm, sheet.height_mm)
    with PdfWriter(path, size, title=test_page_title(sheet, language)) as pdf:
        layout = CalibrationLayout(sheet=sheet, language=language)
        draw_test_page(PdfCanvas(pdf, grey=True), layout)
        pdf.finish_page()
        pdf.save()


def draw_test_page(canvas: PdfCanvas, layout: CalibrationLayout) -> None:
    """Draw the page."""
    draw_stairs(canvas, layout)
    draw_bars(canvas, layout)
    draw_samples(canvas, layout)
    draw_form(canvas, layout)
    _steps(canvas, layout, _head(canvas, layout))


def _head(canvas: PdfCanvas, layout: CalibrationLayout) -> float:
    """Title, sheet format, and lines for the printer's name; returns where it ends, in mm."""
    k, area, sheet, words = layout.scale, layout.steps, layout.sheet, layout.words
    y = area.top + 3 * k
    size = measures_for(sheet.name, layout.language).size(sheet.width_mm, sheet.height_mm)
    wide = canvas.text((area.left, y), words("test-page.kicker"), kicker(6.8 * k))
    subtitle = f"{sheet.title}, {size}"
    canvas.text((area.left + wide + 3 * k, y), subtitle, body(7 * k))
    title = words("test-page.title")
    whole = canvas.width(title, display(19 * k))
    style = display(19 * k * min(1.0, area.width / whole))
    canvas.text((area.left, y + 9.5 * k), title, style)
    y += 17.5 * k
    draw_labelled_lines(canvas, Rect(area.left, y, area.width, 0), layout)
    return y + 4.5 * k


def _steps(canvas: PdfCanvas, layout: CalibrationLayout, top: float) -> None:
    """The steps, in the largest type that fits."""
    area = layout.steps
    room = Rect(area.left, top, area.width, area.bottom - top)
    steps = _step_texts(layout)
    size_pt = _LARGEST_PT * max(1.0, layout.scale)
    while size_pt > _SMALLEST_PT and _height(steps, size_pt, room.width) > room.height:
        size_pt -= _STEP_PT
    unit, y = pt_to_mm(size_pt), room.top
    for number, text in enumerate(steps, start=1):
        canvas.text((room.left, y + unit), str(number), strong(size_pt, SANGUINE))
        for line in lines(text, size_pt, room.width - unit * _NUMBER):
            draw_line(canvas, (room.left + unit * _NUMBER, y + unit), line, size_pt)
            y += unit * LEADING
        y += unit * _AFTER_STEP


def _height(steps: tuple[str, ...], size_pt: float, width_mm: float) -> float:
    unit = pt_to_mm(size_pt)
    broken = [len(lines(text, size_pt, width_mm - unit * _NUMBER)) for text in steps]
    return unit * (sum(broken) * LEADING + len(broken) * _AFTER_STEP)


def _step_texts(layout: CalibrationLayout) -> tuple[str, ...]:
    words, bar = layout.words, layout.bars.across_mm
    low, high = (length_in_words(layout, round(bar * share, 1)) for share in _FITTED)
    # The finest mark of an inch rule is 0.4 mm.
    steps = (
        words("test-page.load", sheet=layout.sheet.title),
        words(
            "test-page.measure-inches" if layout.sheet.inches else "test-page.measure",
            rings=length_in_words(layout, bar * INNER_SHARE),
        ),
        words("test-page.staircases"),
        words("test-page.write"),
        words(
            "test-page.fitting",
            low=low,
            high=high,
            error=words("pack.percent", number=words.number(ENGINE_ERROR * 100)),
        ),
    )
    return tuple(step.text for step in section("", steps).steps)
