"""The guide: typeset so that it always takes just its two pages, or one where nothing is joined.

The words come from `paper` and `support`. The largest type that lets all
pages hold their sections is found by halving; what is then left of a page goes between
its sections. On a wide sheet headings hang in a column of their own, on a narrow one
they stand above.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial

from worker.pages.guide.paper import first_page
from worker.pages.guide.sections import Section
from worker.pages.guide.support import second_page
from worker.pages.pack_content import PackContent
from worker.pdf.canvas import LineStyle, PdfCanvas
from worker.pdf.palette import (
    BLACK,
    HAIR_MM,
    PENCIL,
    SANGUINE,
    SMALLEST_PT,
    body,
    display,
    kicker,
    strong,
)
from worker.pdf.text import clean
from worker.pdf.typeset import LEADING, draw_line, lines, tick_box
from worker.spec.plan import Rect
from worker.units import pt_to_mm

_SMALLEST_PT, _LARGEST_PT = 4.0, 13.0
#: Halvings: finer than a tenth of a point.
_HALVINGS = 7
#: Sheets narrower than this set their headings above.
_HANGING_MM = 160.0
_HANG_SHARE = 0.20
#: All in sizes of type: box column, space after a step, least space around a section's rule.
_BOX, _AFTER_STEP, _AROUND_RULE = 1.9, 0.42, 0.75
#: Room that a heading takes above its steps.
_HEADING = 2.3
#: Sections drift no further apart than this, in sizes of type.
_MOST_SPREAD = 1.6

DrawPage = Callable[[PdfCanvas], None]


@dataclass(frozen=True, kw_only=True)
class _GuidePage:
    """One guide page: its number, what it is called, its sections and their first number."""

    pack: PackContent
    page: int
    title: str
    sections: tuple[Section, ...]
    first: int

    @cached_property
    def area(self) -> Rect:
        """Where the sections stand."""
        area, k, sheet = self.pack.printable, self.pack.scale, self.pack.plan.sheet
        quiet, margin = 15.0 * k, self.pack.spec.sheet.margin_mm
        left, top = max(quiet, margin.left), max(quiet, margin.top) + 15.5 * k
        right = min(sheet.width_mm - quiet, area.right)
        bottom = min(sheet.height_mm - quiet * 0.8, area.bottom)
        return Rect(left, top, right - left, bottom - top)

    @cached_property
    def hang(self) -> float:
        """Width of the headings' column; 0 where they stand above."""
        wide = self.pack.plan.sheet.width_mm >= _HANGING_MM
        return self.area.width * _HANG_SHARE if wide else 0.0

    def measure(self, size_pt: float) -> float:
        """How wide a step's text is."""
        return self.area.width - self.hang - pt_to_mm(size_pt) * _BOX

    def height(self, section: Section, size_pt: float) -> float:
        """How high a section is."""
        unit = pt_to_mm(size_pt)
        broken = [len(lines(step.text, size_pt, self.measure(size_pt))) for step in section.steps]
        text = sum(broken) * unit * LEADING + len(broken) * unit * _AFTER_STEP
        return text + (0.0 if self.hang else unit * _HEADING)

    def spare(self, size_pt: float) -> float:
        """What the sections leave of the page; negative where they do not fit."""
        used = sum(self.height(section, size_pt) for section in self.sections)
        around = 2 * _AROUND_RULE * pt_to_mm(size_pt) * len(self.sections)
        return self.area.height - used - around


def draw_guide(pack: PackContent) -> list[DrawPage]:
    """The guide's pages, ready to be drawn one after the other."""
    start, end = first_page(pack), second_page(pack)
    together = len(pack.plan.guide_pages) == 1
    guide_pages = _one_page(pack, start + end) if together else _guide_pages(pack, start, end)
    size_pt = _largest_that_fits(guide_pages)
    if size_pt < SMALLEST_PT and not together:
        # On small paper the first page is the full one; its last section can begin the next.
        guide_pages = _guide_pages(pack, start[:-1], (start[-1], *end))
        size_pt = _largest_that_fits(guide_pages)
    return [partial(_draw, guide_page=guide_page, size_pt=size_pt) for guide_page in guide_pages]


def _one_page(pack: PackContent, sections: tuple[Section, ...]) -> tuple[_GuidePage, ...]:
    title, (page,) = "From printer to drawing", pack.plan.guide_pages
    return (_GuidePage(pack=pack, page=page, title=title, sections=sections, first=1),)


def _guide_pages(
    pack: PackContent, start: tuple[Section, ...], end: tuple[Section, ...]
) -> tuple[_GuidePage, ...]:
    titles = ("From printer to enlargement", "From enlargement to drawing")
    firsts = (1, 1 + len(start))
    return tuple(
        _GuidePage(pack=pack, page=page, title=title, sections=sections, first=first)
        for page, title, sections, first in zip(
            pack.plan.guide_pages, titles, (start, end), firsts, strict=True
        )
    )


def _largest_that_fits(guide_pages: tuple[_GuidePage, ...]) -> float:
    k = guide_pages[0].pack.scale
    low, high = _SMALLEST_PT, min(_LARGEST_PT, 10.2 * max(1.0, k))
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        fits = all(guide_page.spare(middle) >= 0 for guide_page in guide_pages)
        low, high = (middle, high) if fits else (low, middle)
    return low


@dataclass(frozen=True)
class _Placed:
    """A section, its number, and where and in which size it is set."""

    section: Section
    number: int
    top: float
    size_pt: float

    @property
    def unit(self) -> float:
        """The size of type in millimetres."""
        return pt_to_mm(self.size_pt)


def _draw(canvas: PdfCanvas, guide_page: _GuidePage, size_pt: float) -> None:
    _head(canvas, guide_page)
    unit, area = pt_to_mm(size_pt), guide_page.area
    spread = min(guide_page.spare(size_pt) / len(guide_page.sections), unit * _MOST_SPREAD)
    around = unit * _AROUND_RULE + spread / 2
    y = area.top
    for number, section in enumerate(guide_page.sections, start=guide_page.first):
        canvas.line((area.left, y), (area.right, y), LineStyle(ink=BLACK, width_mm=HAIR_MM))
        placed = _Placed(section, number, y + around, size_pt)
        _heading(canvas, guide_page, placed)
        _steps(canvas, guide_page, placed)
        y += guide_page.height(section, size_pt) + 2 * around


def _head(canvas: PdfCanvas, guide_page: _GuidePage) -> None:
    pack, area, k = guide_page.pack, guide_page.area, guide_page.pack.scale
    y = area.top - 15.5 * k
    number = f"{pack.text.number}   ·   page {guide_page.page} of {pack.pages}"
    style = body(pack.type_pt(7), PENCIL)
    right = canvas.width(number, style)
    canvas.text((area.right, y + 2 * k), number, style, align="right")
    x = area.left + canvas.text((area.left, y + 2 * k), "GUIDE", kicker(pack.type_pt(7))) + 3 * k
    title = canvas.fit(clean(pack.text.title), style, area.right - right - 4 * k - x)
    canvas.text((x, y + 2 * k), title, style)
    whole = canvas.width(guide_page.title, display(19 * k))
    large = display(19 * k * min(1.0, area.width / whole))
    canvas.text((area.left, y + 11 * k), guide_page.title, large)


def _heading(canvas: PdfCanvas, guide_page: _GuidePage, placed: _Placed) -> None:
    """The section's number and name, hung at the left or set above."""
    unit, x, base = placed.unit, guide_page.area.left, placed.top + placed.unit * 1.35
    figure = display(placed.size_pt * (2.1 if guide_page.hang else 1.9), SANGUINE)
    wide = canvas.text((x, base), str(placed.number), figure)
    at = (x + unit * 1.9, placed.top + unit) if guide_page.hang else (x + wide + unit * 0.6, base)
    canvas.text(at, placed.section.title, strong(placed.size_pt * 1.13))


def _steps(canvas: PdfCanvas, guide_page: _GuidePage, placed: _Placed) -> None:
    unit, size_pt = placed.unit, placed.size_pt
    x = guide_page.area.left + guide_page.hang
    y = placed.top + (0.0 if guide_page.hang else unit * _HEADING)
    for step in placed.section.steps:
        tick_box(canvas, (x, y), unit, ticked=step.ticked)
        for line in lines(step.text, size_pt, guide_page.measure(size_pt)):
            draw_line(canvas, (x + unit * _BOX, y + unit), line, size_pt)
            y += unit * LEADING
        y += unit * _AFTER_STEP
