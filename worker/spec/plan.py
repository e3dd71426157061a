"""The plan: everything that is drawn, shown or stored about the sheets of a picture.

Frozen values. Picture coordinates run in millimetres from the picture's top left, as
printed (that is, mirrored where the print is mirrored); page coordinates run in
millimetres from the top left of the portrait page.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from worker.spec.spec import Area, Arrangement

#: Where a grid is asked for: the small gridded reference, and the grid on the support.
GRID_PAGES = 2
#: Narrower sheets, such as A5, do not hold the whole guide of one sheet in type that is legible.
_WHOLE_GUIDE_MM = 160.0


def map_pages(sheets: int) -> int:
    """How many pages the map has, before the guide: 1, or none where nothing is joined."""
    return 1 if sheets > 1 else 0


def guide_pages(sheets: int, sheet_width_mm: float) -> int:
    """How many pages the guide has: 2, or 1 where nothing is joined and a page holds it all.

    The numbers are fixed, as for the grid, so that the plan knows on which page a sheet is
    printed without setting any type.
    """
    return 2 if sheets > 1 or sheet_width_mm < _WHOLE_GUIDE_MM else 1


def first_grid_page(sheets: int, sheet_width_mm: float) -> int:
    """The page of the gridded reference, where a grid is asked for: behind map and guide."""
    return 1 + map_pages(sheets) + guide_pages(sheets, sheet_width_mm)


def first_sheet_page(sheets: int, sheet_width_mm: float, *, gridded: bool) -> int:
    """The page of the first sheet: behind map and guide, and the grid's pages if there are."""
    return first_grid_page(sheets, sheet_width_mm) + (GRID_PAGES if gridded else 0)


#: The box of a register mark, along its seam and across it.
REGISTER_MARK_MM = (12.0, 4.0)

Edge = Literal["top", "right", "bottom", "left"]
EDGES: tuple[Edge, ...] = ("top", "right", "bottom", "left")


@dataclass(frozen=True)
class Rect:
    """A rectangle in millimetres from the top left."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Distance of the right edge from the origin."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Distance of the bottom edge from the origin."""
        return self.top + self.height


@dataclass(frozen=True)
class Size:
    """Width and height in millimetres."""

    width_mm: float
    height_mm: float


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One sheet's part of the enlargement.

    Attributes:
        label: Row and place in it, as `worker/spec/sheet_labels.py` writes it (`2·3`).
        page: Page of the pack it is printed on, from 1.
        row, column: The same place as numbers, from 0.
        picture_rect_mm: The piece in the picture, lap included.
        lap_right_mm, lap_bottom_mm: How far the piece reaches under its right and its
            bottom neighbour; 0 on butt joints and at the picture's edge.
        sheet_rect_mm: The piece on the portrait page as the PDF draws it: turned where
            `turned_deg` says so, and with the printer's correction.
        turned_deg: 0, or 90 where the piece lies on the page turned clockwise.
        neighbours: Labels that meet each edge of the piece, edges named as in the upright
            picture, in order from left or top.
    """

    label: str
    page: int
    row: int
    column: int
    picture_rect_mm: Rect
    lap_right_mm: float
    lap_bottom_mm: float
    sheet_rect_mm: Rect
    turned_deg: Literal[0, 90]
    neighbours: dict[Edge, tuple[str, ...]]

    @property
    def flap(self) -> Edge | None:
        """The edge of the page that is not cut: what paper is left there hinges the picture.

        It is the picture's top, where the joined sheets are hinged to the board.
        """
        if self.picture_rect_mm.top > 0:
            return None
        return "right" if self.turned_deg else "top"


@dataclass(frozen=True, kw_only=True)
class Seam:
    """The line where two pieces meet; with a lap, the edge of the upper piece.

    Attributes:
        between: The labels of the left and the right, or of the upper and the lower piece.
        from_mm, to_mm: Its ends in the picture.
        line_mm: How much line to trace a band of tape along it would cover; None where nothing
            is printed to trace.
        register_marks_mm: The middles of the register marks that cross it, from its start.
    """

    between: tuple[str, str]
    from_mm: tuple[float, float]
    to_mm: tuple[float, float]
    line_mm: float | None
    register_marks_mm: tuple[tuple[float, float], ...] = ()

    @property
    def standing(self) -> bool:
        """Whether it is upright, between a left and a right piece."""
        return self.from_mm[0] == self.to_mm[0]


@dataclass(frozen=True, kw_only=True)
class TapeSpot:
    """Where a small piece of tape goes.

    Attributes:
        rect_mm: Its place in the picture.
        joins: Labels of the pieces that it joins.
        at_junction: Whether it holds a place where three or four pieces meet.
        line_mm: Line to trace that it covers; None where nothing is printed to trace.
    """

    rect_mm: Rect
    joins: tuple[str, ...]
    at_junction: bool
    line_mm: float | None


@dataclass(frozen=True, kw_only=True)
class TrimStack:
    """Sheets that can be cut together; how far each cut is from that edge of the paper.

    The edge that keeps its paper as a flap has no cut.
    """

    labels: tuple[str, ...]
    margin_mm: dict[Edge, float]


@dataclass(frozen=True, kw_only=True)
class CheckLength:
    """A length to measure.

    Attributes:
        name: What is measured.
        scope: `joined`: on the whole picture; `sheet`: on the sheet that is printed first.
        start, end: From where to where.
        length_mm: As it should be.
        tolerance_mm: What it may be off, in mm.
        seams: How many seams it crosses.
    """

    name: str
    scope: Literal["joined", "sheet"]
    start: str
    end: str
    length_mm: float
    tolerance_mm: float
    seams: int


@dataclass(frozen=True, kw_only=True)
class SheetToTest:
    """The sheet that is printed first and measured.

    Attributes:
        label, page: Which it is.
        tells: Whether its lengths, measured with a rule, vouch for the joined picture; if not, the
            printer's test page does, or the first row, joined before the rest.
    """

    label: str
    page: int
    tells: bool


@dataclass(frozen=True, kw_only=True)
class Pass:
    """What is transferred at one placing of the transfer paper."""

    number: int
    labels: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Resolution:
    """What the photo can give at this size.

    Attributes:
        reference_ppi: Pixels of the reference per inch of the picture.
        resolved_ppi: The same of pixels that the photo can fill: fewer where it was enlarged
            before, or is blurred.
        printed_ppi: Pixels per inch in the pack; for lines alone, which have no pixels, the most
            that the spec allows.
        finest_line_mm: The thinnest line, with its gap, that reference and print can hold.
        advice: The same in words a person can use.
    """

    reference_ppi: float
    resolved_ppi: float
    printed_ppi: float
    finest_line_mm: float
    advice: str


@dataclass(frozen=True, kw_only=True)
class PlanGrid:
    """The grid, and sides of squares that are suggested.

    Attributes:
        square_mm, columns, rows: None where the spec has no grid.
        enlargement: Width of the picture divided by that of the small gridded reference.
        suggested_mm: Sides of squares that divide the picture evenly, from fine to coarse.
    """

    square_mm: float | None
    columns: int | None
    rows: int | None
    enlargement: float
    suggested_mm: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class PlanWarning:
    """Something the person should know before printing, and what to do."""

    code: str
    detail: str


@dataclass(frozen=True, kw_only=True)
class Change:
    """A change of the spec; fields that are None stay as they are.

    Attributes:
        margin_mm: All four margins of the sheet.
        width_mm, height_mm: The support, both of them where one changes.
        format: PWG 5101.1 name of the sheets.
        arrangement: How seams run.
        across_correction, down_correction: The printer's.
        protect: Areas of the picture that are protected besides those that are already.
    """

    margin_mm: float | None = None
    width_mm: float | None = None
    height_mm: float | None = None
    format: str | None = None
    arrangement: Arrangement | None = None
    across_correction: float | None = None
    down_correction: float | None = None
    protect: tuple[Area, ...] | None = None


@dataclass(frozen=True, kw_only=True)
class FaceAreas:
    """A face in the picture and each of its eyes, in shares of the unmirrored picture."""

    face: Area
    eyes: tuple[Area, ...]


@dataclass(frozen=True, kw_only=True)
class Suggestion:
    """A change that a person may accept.

    Attributes:
        code: `fewer-sheets` or `protect-face`.
        change: What to change.
        sheet_count: How many sheets the picture takes with it; None where counting takes longer
            than a plan may.
        faces: Of `protect-face`: the faces that are not protected yet, from large to small.
    """

    code: str
    change: Change
    sheet_count: int | None
    detail: str
    faces: tuple[FaceAreas, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FaceWithHead:
    """Where a face is and its whole head, in shares of the upright reference."""

    face: Area
    head: Area


@dataclass(frozen=True, kw_only=True)
class Framing:
    """What the crop does with heads.

    Attributes:
        faces: Where faces and their heads are found, from large to small.
        whole: How many of the heads lie in the crop whole.
        moved: Whether the default crop lies off the centre for them.
    """

    faces: tuple[FaceWithHead, ...]
    whole: int
    moved: bool


@dataclass(frozen=True, kw_only=True)
class Plan:
    """How a picture becomes sheets.

    Attributes:
        picture: Size of the picture.
        sheet: Size of the portrait page.
        crop: The crop as resolved, in shares of the upright reference.
        rotate_deg: As in the spec.
        framing: What the crop does with heads.
        sheet_count, rows, columns: `columns` is that of the longest row where seams are
            staggered by rows, `rows` that of the longest column where by columns.
        protected_mm: The protected areas, in the picture as printed.
        run_through: Which seams run through: `both`, `across` (staggered by rows) or `down`
            (staggered by columns).
        seam_line_chosen_mm, seam_line_even_mm: Line to trace, in the chosen style, that tape
            along all seams would cover, as chosen and under an even split into the same sheets.
            None where nothing is printed to trace, and for lines and flat tones of a reference
            that was not read.
        tape_spots: Where butt joints get tape; none where the picture goes on a wall.
        on_wall: Whether it is worked on upright, strip by strip, since no table takes it.
        passes: The strips in which it is transferred, in their order.
        mean_coverage: Mean share of ink, 0 to 1.
        sheet_to_test: The sheet that is printed first and measured.
        suggestions: Faces to protect, and small changes that take fewer sheets, each by itself.
        grid: The grid, and sides of squares that are suggested.
        language: Of what is printed.
    """

    picture: Size
    sheet: Size
    crop: Area
    rotate_deg: float
    framing: Framing
    sheet_count: int
    rows: int
    columns: int
    run_through: Literal["both", "across", "down"]
    protected_mm: tuple[Rect, ...]
    pieces: tuple[Piece, ...]
    seams: tuple[Seam, ...]
    tape_spots: tuple[TapeSpot, ...]
    trim_stacks: tuple[TrimStack, ...]
    check_lengths: tuple[CheckLength, ...]
    sheet_to_test: SheetToTest
    on_wall: bool
    passes: tuple[Pass, ...]
    resolution: Resolution
    mean_coverage: float
    seam_line_chosen_mm: float | None
    seam_line_even_mm: float | None
    warnings: tuple[PlanWarning, ...]
    suggestions: tuple[Suggestion, ...]
    grid: PlanGrid
    language: str

    def without_faces(self) -> Plan:
        """The plan without the places of faces, which a pack keeps only where they are taken."""
        return replace(
            self,
            framing=replace(self.framing, faces=()),
            suggestions=tuple(one for one in self.suggestions if not one.faces),
        )

    @property
    def map_pages(self) -> int:
        """How many pages the map has: 1, or none where nothing is joined."""
        return map_pages(self.sheet_count)

    @property
    def guide_pages(self) -> tuple[int, ...]:
        """The pages of the guide."""
        first = 1 + self.map_pages
        return tuple(range(first, first + guide_pages(self.sheet_count, self.sheet.width_mm)))

    @property
    def first_grid_page(self) -> int:
        """The page of the gridded reference, where there is a grid."""
        return first_grid_page(self.sheet_count, self.sheet.width_mm)

    @property
    def first_sheet_page(self) -> int:
        """The page of the first sheet."""
        return min(piece.page for piece in self.pieces)

    @property
    def page_count(self) -> int:
        """How many pages the whole pack has."""
        return max(piece.page for piece in self.pieces)

    def piece(self, label: str) -> Piece | None:
        """The piece of this label, or None."""
        return next((piece for piece in self.pieces if piece.label == label), None)
