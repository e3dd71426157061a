"""In which type size, and with how much space, the guide's sections fill its pages.

Of each page the largest size at which it holds its sections is found by halving; what then is
left of it goes between sections and steps. Where one page has much more to say than the other,
its last section begins the next page, or the next page's first section ends it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from worker.pages.guide.contents import first_page, second_page
from worker.pages.pack_content import PackContent
from worker.pages.section import Section
from worker.pdf.palette import SMALLEST_PT
from worker.pdf.typeset import LEADING, lines
from worker.spec.plan import Rect
from worker.units import pt_to_mm

_LEAST_PT, _LARGEST_PT, _COMFORTABLE_PT = 4.0, 13.0, 11.0
#: Halvings: finer than a tenth of a point.
_HALVINGS = 7
#: Two pages that lie side by side look alike up to here.
_MOST_LARGER = 1.15
#: A section changes its page only where type grows by more than this.
_WORTH_MOVING = 1.06
#: Sheets narrower than this set their headings above.
_HANGING_MM = 160.0
_HANG_SHARE = 0.20
#: What stays blank at the edges, on A4; narrow sheets need their room for type.
_QUIET_MM, _QUIET_NARROW_MM = 15.0, 10.0
#: All in sizes of type: box column, space after a step, least space around a section's rule, room
#: that a heading takes above its steps.
BOX, AFTER_STEP, AROUND_RULE, HEADING = 1.9, 0.42, 0.75, 2.3
#: What is left of a page goes between sections up to here, then between steps, in sizes of type.
_MOST_SPREAD, _MOST_LOOSE = 2.2, 0.6


@dataclass(frozen=True, kw_only=True)
class GuidePage:
    """One guide page: its number, what it is called, its sections and their first number."""

    pack: PackContent
    page: int
    title: str
    sections: tuple[Section, ...]
    first: int
    size_pt: float = _LEAST_PT

    @cached_property
    def area(self) -> Rect:
        """Where the sections stand."""
        area, k, sheet = self.pack.printable, self.pack.scale, self.pack.plan.sheet
        wide = sheet.width_mm >= _HANGING_MM
        quiet, margin = (
            (_QUIET_MM if wide else _QUIET_NARROW_MM) * k,
            self.pack.spec.sheet.margin_mm,
        )
        left, top = max(quiet, margin.left), max(quiet, margin.top) + 15.5 * k
        right = min(sheet.width_mm - quiet, area.right)
        bottom = min(sheet.height_mm - quiet * 0.8, area.bottom)
        return Rect(left, top, right - left, bottom - top)

    @property
    def unit(self) -> float:
        """The size of type in millimetres."""
        return pt_to_mm(self.size_pt)

    @cached_property
    def hang(self) -> float:
        """Width of the headings' column; 0 where they stand above."""
        wide = self.pack.plan.sheet.width_mm >= _HANGING_MM
        return self.area.width * _HANG_SHARE if wide else 0.0

    @property
    def measure(self) -> float:
        """How wide a step's text is."""
        return self.area.width - self.hang - self.unit * BOX

    def height(self, section: Section) -> float:
        """How high a section is, set tight."""
        broken = [len(lines(step.text, self.size_pt, self.measure)) for step in section.steps]
        text = sum(broken) * self.unit * LEADING + len(broken) * self.unit * AFTER_STEP
        return text + (0.0 if self.hang else self.unit * HEADING)

    @cached_property
    def spare(self) -> float:
        """What the sections leave of the page; negative where they do not fit."""
        used = sum(self.height(section) for section in self.sections)
        return self.area.height - used - 2 * AROUND_RULE * self.unit * len(self.sections)

    @property
    def spread(self) -> float:
        """What of the space left comes above and below each section."""
        return min(self.spare / len(self.sections), self.unit * _MOST_SPREAD)

    @property
    def loose(self) -> float:
        """What of the space that is still left comes after each step."""
        left = self.spare - self.spread * len(self.sections)
        steps = sum(len(section.steps) for section in self.sections)
        return min(left / max(steps, 1), self.unit * _MOST_LOOSE)

    @cached_property
    def largest_pt(self) -> float:
        """The largest type in which the sections fit."""
        low, high = _LEAST_PT, min(_LARGEST_PT, _COMFORTABLE_PT * max(1.0, self.pack.scale))
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            fits = replace(self, size_pt=middle).spare >= 0
            low, high = (middle, high) if fits else (low, middle)
        return low


def guide_pages(pack: PackContent) -> tuple[GuidePage, ...]:
    """The pages in their type, the sections where they let it be largest."""
    pages = _best_pages(pack, first_page(pack), second_page(pack))
    if _smaller(pages) < SMALLEST_PT:
        # On small paper what would do as well is left out.
        start, end = (
            tuple(section.without_extras() for section in sections)
            for sections in (first_page(pack), second_page(pack))
        )
        pages = _best_pages(pack, start, end)
    most = _smaller(pages) * _MOST_LARGER
    return tuple(replace(page, size_pt=min(page.largest_pt, most)) for page in pages)


def _best_pages(
    pack: PackContent, start: tuple[Section, ...], end: tuple[Section, ...]
) -> tuple[GuidePage, ...]:
    """The sections on one page where the guide has one, else parted in the best of three ways."""
    sections, usual = (*start, *end), len(start)
    if len(pack.plan.guide_pages) == 1:
        return _pages(pack, (sections,))
    pages = _pages(pack, (start, end))
    for split in (usual - 1, usual + 1):
        other = _pages(pack, (sections[:split], sections[split:]))
        if _smaller(other) > _smaller(pages) * _WORTH_MOVING:
            pages = other
    return pages


def _smaller(pages: tuple[GuidePage, ...]) -> float:
    return min(page.largest_pt for page in pages)


def _pages(pack: PackContent, parts: tuple[tuple[Section, ...], ...]) -> tuple[GuidePage, ...]:
    first = (1, 1 + len(parts[0]))
    return tuple(
        GuidePage(pack=pack, page=page, title=title, sections=sections, first=number)
        for page, title, sections, number in zip(
            pack.plan.guide_pages, _titles(pack), parts, first, strict=False
        )
    )


def _titles(pack: PackContent) -> tuple[str, ...]:
    words = pack.words
    if len(pack.plan.guide_pages) == 1:
        return (words("guide.to-the-end"),)
    if pack.plan.on_wall:
        return (words("guide.to-cartoon"), words("guide.to-wall"))
    return (words("guide.to-enlargement"), words("guide.to-drawing"))
