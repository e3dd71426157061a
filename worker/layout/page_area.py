"""How much of a page can be printed, and how large a piece fits on it.

The slug is a head and a foot strip inside the margins; pieces get the full printable width. On
an A4 sheet with 5 mm margins a piece may be 200 mm wide, so that 60 × 40 cm takes six sheets and
not eight. All pieces begin at the top left of the usable area, so that all sheets share their
head cut and their left cut.
"""

from __future__ import annotations

from dataclasses import dataclass

from worker.errors import UsableAreaTooSmall
from worker.spec.formats import sheet_format
from worker.spec.plan import Rect, Size
from worker.spec.spec import Print, Sheet

#: Label, neighbours, scale bar and trim marks stand here.
HEAD_SLUG_MM = 10.0
#: Trim marks and the foot cut stand here.
FOOT_SLUG_MM = 4.0
#: A usable area smaller than this is a mistake in the margins.
SMALLEST_USABLE_MM = 60.0


@dataclass(frozen=True, kw_only=True)
class PageArea:
    """The area of a portrait page in which a piece is printed.

    Attributes:
        size: Size of the sheet.
        usable_mm: The area for the piece: the sheet less margins and slug.
        across, down: The printer's corrections, by which lengths on the page are multiplied.
    """

    size: Size
    usable_mm: Rect
    across: float
    down: float

    def capacity(self, *, turned: bool) -> tuple[float, float]:
        """The largest piece, (width, height) in millimetres of the picture."""
        across_mm = self.usable_mm.width / self.across
        down_mm = self.usable_mm.height / self.down
        return (down_mm, across_mm) if turned else (across_mm, down_mm)

    def place(self, width_mm: float, height_mm: float, *, turned: bool) -> Rect:
        """The place on the page of a piece with this size in the picture, in mm."""
        across_mm, down_mm = (height_mm, width_mm) if turned else (width_mm, height_mm)
        left, top = self.usable_mm.left, self.usable_mm.top
        return Rect(left, top, across_mm * self.across, down_mm * self.down)


def page_area(sheet: Sheet, print_: Print) -> PageArea:
    """The area of a sheet less its margins and slug, with the printer's corrections.

    Raises:
        FormatUnknown: No such sheet format.
        UsableAreaTooSmall: Less than 60 mm is left one way.
    """
    known = sheet_format(sheet.format)
    margin = sheet.margin_mm
    top = margin.top + HEAD_SLUG_MM
    width = known.width_mm - margin.left - margin.right
    height = known.height_mm - top - margin.bottom - FOOT_SLUG_MM
    if min(width, height) < SMALLEST_USABLE_MM:
        message = (
            f"These margins leave {max(width, 0):.0f} × {max(height, 0):.0f} mm of {known.title} "
            f"to print on; at least {SMALLEST_USABLE_MM:.0f} mm each way are needed. "
            "Make the margins smaller or the sheet larger."
        )
        raise UsableAreaTooSmall(message, field="sheet.margin_mm")
    return PageArea(
        size=Size(known.width_mm, known.height_mm),
        usable_mm=Rect(margin.left, top, width, height),
        across=print_.across_correction,
        down=print_.down_correction,
    )
