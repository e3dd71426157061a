"""What the pages of a pack are drawn from, and the geometry of one sheet page."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from worker.layout.page_area import FOOT_SLUG_MM, HEAD_SLUG_MM
from worker.pages.lengths import Measures, measures_for
from worker.pdf.palette import SMALLEST_PT
from worker.pdf.stroke_paths import LineWork
from worker.pdf.text import clean
from worker.spec.plan import EDGES, GRID_PAGES, Edge, Piece, Plan, Rect, Seam
from worker.spec.spec import Spec
from worker.words.catalogue import Words, words_for

#: The picture's edge at each edge of the page when the piece is turned clockwise: the picture's
#: top is then at the page's right.
_TURNED: dict[Edge, Edge] = {"right": "top", "bottom": "right", "left": "bottom", "top": "left"}


def without_lap(piece: Piece) -> Rect:
    """The part of a piece that is visible once joined: its place in the picture less its laps."""
    whole = piece.picture_rect_mm
    width, height = whole.width - piece.lap_right_mm, whole.height - piece.lap_bottom_mm
    return Rect(whole.left, whole.top, width, height)


@dataclass(frozen=True, kw_only=True)
class PackText:
    """What is printed about a pack beside its plan.

    Attributes:
        title: What its person calls it.
        number: The short number by which a sheet is told from those of other packs.
        recipient: The student whose name its sheets carry; empty: none.
    """

    title: str
    number: str
    recipient: str = ""


@dataclass(frozen=True, kw_only=True)
class Tones:
    """The flat tones of a picture, from the darkest to the paper's own.

    Attributes:
        greys: Each as it is printed, 0 to 255.
        shares: How much of the picture each takes; together 1.
    """

    greys: tuple[int, ...]
    shares: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Aids:
    """What is drawn beside or instead of a photograph.

    Attributes:
        lines: Lines to trace.
        tones: The tones of a picture in values.
        blank: Labels of the pieces with nothing to trace.
    """

    lines: LineWork | None = None
    tones: Tones | None = None
    blank: frozenset[str] = frozenset()


@dataclass(frozen=True, kw_only=True)
class PackContent:
    """What every page of a pack is drawn from.

    Attributes:
        spec, plan: What the pack is made from.
        text: Its title and number.
        aids: Lines to trace, and the tones of a picture in values.
        grid_alone: Whether the grid's pages are all there is: for drawing by eye without sheets.
    """

    spec: Spec
    plan: Plan
    text: PackText
    aids: Aids = field(default_factory=Aids)
    grid_alone: bool = False

    @property
    def words(self) -> Words:
        """The texts of the pack's language."""
        return words_for(self.spec.language)

    @property
    def title(self) -> str:
        """The pack's title as it is printed large."""
        return clean(self.text.title) or self.words("pack.untitled")

    @property
    def say(self) -> Measures:
        """How the pack writes lengths."""
        return measures_for(self.spec.sheet.format, self.spec.language)

    @property
    def pages(self) -> int:
        """How many pages the whole pack has."""
        return GRID_PAGES if self.grid_alone else self.plan.page_count

    @property
    def first_grid_page(self) -> int:
        """The page of the gridded reference, where there is a grid."""
        return 1 if self.grid_alone else self.plan.first_grid_page

    @cached_property
    def seams_of(self) -> dict[str, tuple[Seam, ...]]:
        """The seams that each sheet takes part in, by its label."""
        found: dict[str, tuple[Seam, ...]] = {}
        for seam in self.plan.seams:
            for label in seam.between:
                found[label] = (*found.get(label, ()), seam)
        return found

    @property
    def stacked(self) -> bool:
        """Whether any two sheets are cut together."""
        return any(len(stack.labels) > 1 for stack in self.plan.trim_stacks)

    @property
    def printable(self) -> Rect:
        """The sheet less the printer's margins."""
        margin, sheet = self.spec.sheet.margin_mm, self.plan.sheet
        width = sheet.width_mm - margin.left - margin.right
        return Rect(margin.left, margin.top, width, sheet.height_mm - margin.top - margin.bottom)

    @property
    def scale(self) -> float:
        """How large type is on this sheet, 1 on A4."""
        sheet = self.plan.sheet
        return max(0.62, min(1.35, sheet.width_mm / 210, sheet.height_mm / 279.4))

    def type_pt(self, size_pt: float) -> float:
        """A size of type that is given for A4, on this sheet; never too small to read."""
        return max(SMALLEST_PT, size_pt * self.scale)


@dataclass(frozen=True, kw_only=True)
class SheetPage:
    """One sheet page: where its piece is, and the strips and room around it, in mm of the page."""

    pack: PackContent
    piece: Piece

    @property
    def cut(self) -> Rect:
        """The piece on the page; its sides are the cuts."""
        return self.piece.sheet_rect_mm

    @property
    def seams(self) -> tuple[Seam, ...]:
        """The seams that this sheet takes part in."""
        return self.pack.seams_of.get(self.piece.label, ())

    @property
    def marked(self) -> bool:
        """Whether register marks are on it."""
        return any(seam.register_marks_mm for seam in self.seams)

    @property
    def turned(self) -> bool:
        """Whether the picture's top is at the page's right."""
        return self.piece.turned_deg != 0

    @property
    def head(self) -> Rect:
        """The strip above all pieces."""
        area = self.pack.printable
        return Rect(area.left, area.top, area.width, HEAD_SLUG_MM)

    @property
    def foot(self) -> Rect:
        """The strip at the foot of the page."""
        area = self.pack.printable
        return Rect(area.left, area.bottom - FOOT_SLUG_MM, area.width, FOOT_SLUG_MM)

    def room(self, edge: Edge) -> float:
        """How much can be printed outside the piece at an edge of the page, in mm."""
        area, cut = self.pack.printable, self.cut
        return {
            "top": cut.top - area.top,
            "right": area.right - cut.right,
            "bottom": area.bottom - cut.bottom,
            "left": cut.left - area.left,
        }[edge]

    def neighbours(self, edge: Edge) -> tuple[str, ...]:
        """Labels at an edge of the page (not of the picture), from left or top."""
        labels = self.piece.neighbours.get(_TURNED[edge] if self.turned else edge, ())
        # Turned clockwise, what ran down the picture's side runs leftwards on the page.
        return labels[::-1] if self.turned and edge in {"top", "bottom"} else labels

    def alone(self) -> bool:
        """Whether the whole picture is on this sheet."""
        return not any(self.piece.neighbours.get(edge) for edge in EDGES)

    def on_page(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """The place on the page of a point of the piece, given from its top left in the picture."""
        whole, cut = self.piece.picture_rect_mm, self.cut
        across, down = x_mm / whole.width, y_mm / whole.height
        if self.turned:
            return cut.right - down * cut.width, cut.top + across * cut.height
        return cut.left + across * cut.width, cut.top + down * cut.height

    def length_mm(self, way: Literal["across", "down"]) -> float:
        """How long the piece is across or down the page, measured with a ruler."""
        whole = self.piece.picture_rect_mm
        return whole.height if self.turned is (way == "across") else whole.width
