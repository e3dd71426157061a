"""Pages 2 and 3, the guide, as they are drawn.

On a wide sheet headings hang in a column of their own, on a narrow one they stand above.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from worker.pages.guide.fitting import AFTER_STEP, AROUND_RULE, BOX, HEADING, GuidePage, guide_pages
from worker.pages.pack_content import PackContent
from worker.pages.section import Section
from worker.pdf.canvas import LineStyle, PdfCanvas
from worker.pdf.fonts import BOLD
from worker.pdf.palette import BLACK, HAIR_MM, SANGUINE, body, display, kicker, strong
from worker.pdf.text import clean, width_pt
from worker.pdf.typeset import LEADING, draw_line, lines, tick_box
from worker.units import mm_to_pt, pt_to_mm

DrawPage = Callable[[PdfCanvas], None]

#: How high capitals and tall letters are, in sizes of their type.
_ASCENT = 0.75


def draw_guide(pack: PackContent) -> list[DrawPage]:
    """The guide's pages, ready to be drawn one after the other."""
    return [partial(_draw, guide_page=guide_page) for guide_page in guide_pages(pack)]


def _draw(canvas: PdfCanvas, guide_page: GuidePage) -> None:
    _head(canvas, guide_page)
    area, y = guide_page.area, guide_page.area.top
    around = guide_page.unit * AROUND_RULE + guide_page.spread / 2
    for number, section in enumerate(guide_page.sections, start=guide_page.first):
        canvas.line((area.left, y), (area.right, y), LineStyle(ink=BLACK, width_mm=HAIR_MM))
        _heading(canvas, guide_page, section.title, number, y + around)
        y = _steps(canvas, guide_page, section, y + around) + around


def _head(canvas: PdfCanvas, guide_page: GuidePage) -> None:
    pack, area, k = guide_page.pack, guide_page.area, guide_page.pack.scale
    y = area.top - 15.5 * k
    page = pack.words("guide.page", page=guide_page.page, pages=pack.pages)
    number = f"{pack.text.number}   ·   {page}"
    style = body(pack.type_pt(7))
    right = canvas.width(number, style)
    # Where type is not as small as the page, it must not reach into the margin.
    base = y + max(2 * k, _ASCENT * pt_to_mm(style.size_pt))
    canvas.text((area.right, base), number, style, align="right")
    name = kicker(pack.type_pt(7))
    x = area.left + canvas.text((area.left, base), pack.words("guide.kicker"), name) + 3 * k
    title = canvas.fit(clean(pack.text.title), style, area.right - right - 4 * k - x)
    canvas.text((x, base), title, style)
    whole = canvas.width(guide_page.title, display(19 * k))
    large = display(19 * k * min(1.0, area.width / whole))
    canvas.text((area.left, y + 11 * k), guide_page.title, large)


def _heading(canvas: PdfCanvas, guide_page: GuidePage, title: str, number: int, top: float) -> None:
    """The section's number and name, hung at the left or set above."""
    unit, size_pt = guide_page.unit, guide_page.size_pt
    x, base = guide_page.area.left, top + unit * 1.35
    figure = display(size_pt * (2.1 if guide_page.hang else 1.9), SANGUINE)
    wide = canvas.text((x, base), str(number), figure)
    if not guide_page.hang:
        canvas.text((x + wide + unit * 0.6, base), title, strong(size_pt * 1.13))
        return
    y, measure = top + unit, guide_page.hang - unit * 2.1
    name_pt = heading_pt(title, size_pt * 1.13, measure)
    for line in lines(f"**{title}**", name_pt, measure):
        canvas.text((x + unit * 1.9, y), " ".join(word.text for word in line), strong(name_pt))
        y += unit * LEADING


def heading_pt(title: str, size_pt: float, measure_mm: float) -> float:
    """The size of type, at most `size_pt`, in which no word of a title is wider than its column."""
    widest_pt = max(width_pt(word, BOLD, 1) for word in title.split())
    return min(size_pt, mm_to_pt(measure_mm) / widest_pt)


def _steps(canvas: PdfCanvas, guide_page: GuidePage, section: Section, top: float) -> float:
    """Returns where they end."""
    unit, size_pt = guide_page.unit, guide_page.size_pt
    x = guide_page.area.left + guide_page.hang
    y = top + (0.0 if guide_page.hang else unit * HEADING)
    for step in section.steps:
        tick_box(canvas, (x, y), unit, ticked=step.ticked)
        for line in lines(step.text, size_pt, guide_page.measure):
            draw_line(canvas, (x + unit * BOX, y + unit), line, size_pt)
            y += unit * LEADING
        y += unit * AFTER_STEP + guide_page.loose
    return y
