"""The spec: what is to be made of a reference, on which support, with which sheets and seams.

Frozen values, already checked; `worker.spec.json` reads them from JSON and writes
them back. Lengths in millimetres, shares from 0 to 1.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

SupportTone = Literal["light", "mid", "dark"]
#: What is drawn or painted with; pastel stands for charcoal too, other also for what is not stated.
Medium = Literal["graphite", "coloured-pencil", "pastel", "paint", "other"]
ToneStyle = Literal["grey", "colour", "outline", "mixed", "values"]
#: How edges of shadows are drawn among lines to trace.
Shadows = Literal["none", "light", "dashed"]
#: What a picture is printed from: the reference in grey or in colour.
ColourMode = Literal["grey", "colour"]
Joint = Literal["butt", "lap"]
Arrangement = Literal["aligned", "staggered"]
Placement = Literal["quiet", "even"]


@dataclass(frozen=True, kw_only=True)
class Support:
    """The paper or board drawn on.

    Attributes:
        width_mm, height_mm, border_mm: Its size, and the blank border on every side.
        tone: Chooses the transfer paper.
        medium: What is drawn with: decides cautions and method in the guide.
    """

    width_mm: float
    height_mm: float
    border_mm: float = 0.0
    tone: SupportTone = "light"
    medium: Medium = "other"

    @property
    def picture_width_mm(self) -> float:
        """Width of the part that is drawn."""
        return self.width_mm - 2 * self.border_mm

    @property
    def picture_height_mm(self) -> float:
        """Height of the part that is drawn."""
        return self.height_mm - 2 * self.border_mm


@dataclass(frozen=True, kw_only=True)
class Area:
    """A rectangle in shares of what it lies on, from the top left."""

    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True, kw_only=True)
class Focus:
    """Take the largest crop of the right proportions, as near this point as it fits."""

    x: float
    y: float


@dataclass(frozen=True, kw_only=True)
class Outline:
    """Which lines are drawn, all in lengths on the paper.

    Attributes:
        line_mm: Weight of a plain line, a step of ISO 9175-1; form lines are drawn twice as
            wide, inner lines half as wide, as far as steps go.
        detail: 0 draws silhouettes, the default contours, 1 every line that stands out from the
            grain, texture too.
        shortest_mm: Strokes shorter than this are left out; in a small face, in proportion.
        shadows: Edges of shadows and of light spots: not at all, as thin as an inner line, or
            so in dashes. None by default: whoever traces one has a hard line to rub out where
            the drawing wants a soft tone.
    """

    line_mm: float = 0.35
    detail: float = 0.5
    shortest_mm: float = 2.5
    shadows: Shadows = "none"


@dataclass(frozen=True, kw_only=True)
class Values:
    """The picture in a few flat tones.

    Attributes:
        count: How many tones, from the darkest to the paper's own.
        thresholds: Where one tone ends and the next begins, ascending, in shares of the
            printed grey from black (0) to white (1), `count - 1` of them; None finds them
            in the picture.
        smallest_mm: No patch and no neck of a tone is narrower than this, and none covers less
            than 25 mm²; 0 keeps all, and draws no lines between patches of one tone.
    """

    count: int = 5
    thresholds: tuple[float, ...] | None = None
    smallest_mm: float = 2.0


@dataclass(frozen=True, kw_only=True)
class Tone:
    """How values are printed.

    Attributes:
        style: `grey` is linear-light luminance, `colour` the reference's own colours,
            `outline` lines to trace on blank paper, `mixed` the same over a lightened grey,
            `values` a few flat tones.
        full_strength: Of `grey`: black is printed black. Otherwise its darkest place takes 65 % of
            the ink, so that a pen line can be seen on it, and a third of the ink is spared.
        lighten: 0 prints values as the style does, 1 prints nothing; spares ink. It is the grey's
            below the lines of `mixed`, and changes nothing of lines.
        lift: 0 leaves darks as they are, 1 lifts them as far as the contours in them want; only
            around contours that would drown in black, and only where the photo is printed.
        contrast: -1 flattens to mid grey, 0 leaves alone, 1 doubles the slope at mid grey.
        outline: For `outline` and `mixed`.
        values: For `values`.
    """

    style: ToneStyle = "grey"
    full_strength: bool = False
    lighten: float = 0.0
    lift: float = 0.0
    contrast: float = 0.0
    outline: Outline = field(default_factory=Outline)
    values: Values = field(default_factory=Values)

    @property
    def colour_mode(self) -> ColourMode:
        """Which tiles of the master are printed: grey or colour."""
        return "colour" if self.style == "colour" else "grey"

    @property
    def photographic(self) -> bool:
        """Whether the photo itself is printed, so that tape hides its lines."""
        return self.style in {"grey", "colour"} and self.lighten < 1

    @property
    def lifted(self) -> float:
        """How far darks are lifted: lines and flat tones are found in the photo as it is."""
        return self.lift if self.style in {"grey", "colour", "mixed"} else 0.0

    @property
    def lined(self) -> bool:
        """Whether lines are drawn."""
        return self.style in {"outline", "mixed"}


@dataclass(frozen=True, kw_only=True)
class Grid:
    """Squares over the picture, for drawing by eye.

    Attributes:
        square_mm: Side of a square, from the picture's top left; the last column and row
            may be narrower.
        diagonals: Both diagonals of every square besides.
        line_mm: Weight of the lines, a step of ISO 9175-1.
    """

    square_mm: float
    diagonals: bool = False
    line_mm: float = 0.18


@dataclass(frozen=True, kw_only=True)
class Margins:
    """What the printer cannot print, on each edge of the portrait sheet, in mm."""

    top: float = 5.0
    right: float = 5.0
    bottom: float = 5.0
    left: float = 5.0


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """What the printer takes; `format` is a PWG 5101.1 name."""

    format: str = "iso_a4_210x297mm"
    margin_mm: Margins = field(default_factory=Margins)


@dataclass(frozen=True, kw_only=True)
class Seams:
    """How pieces meet.

    Attributes:
        joint: `butt` (edge to edge) or `lap` (the upper or left piece reaches `lap_mm`
            under its neighbour).
        arrangement: `aligned` seams run through; `staggered` ones are chosen separately in
            every row, or in every column.
        placement: `quiet` puts seams where there is little line; `even` splits evenly.
        protect: Areas that no seam may cross, in shares of the unmirrored picture, since they
            are drawn on the photo.
        register_marks: Whether small marks across each seam show how true it is joined.
        within_mm: What the joined picture may be off in 600 mm. What each sheet may be off, and
            each length that is measured, follows from it.
    """

    joint: Joint = "butt"
    lap_mm: float = 0.0
    arrangement: Arrangement = "aligned"
    placement: Placement = "quiet"
    protect: tuple[Area, ...] = ()
    register_marks: bool = True
    within_mm: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Print:
    """How the pack is printed.

    Attributes:
        resolution_ppi: The most pixels per inch that are printed.
        mirror: Print the picture mirrored, for methods that transfer face down.
        black_only: Map, guide, grid and cover in black alone. A picture in colour keeps its
            colours on its sheets.
        across_correction: Nominal divided by measured length, across the page.
        down_correction: The same, down the page.
        printer: What the person calls the printer that the corrections were measured on;
            stated on the pack.
    """

    resolution_ppi: float = 200.0
    mirror: bool = False
    black_only: bool = False
    across_correction: float = 1.0
    down_correction: float = 1.0
    printer: str = ""


@dataclass(frozen=True, kw_only=True)
class Spec:
    """What is to be made of a reference; everything except the support has a default.

    `crop` is in shares of the upright reference; None is the largest at the centre.
    `rotate_deg` turns the crop about its own centre: positive turns what is in the
    picture clockwise. `language` is that of what is printed: the tag of a folder of
    `worker.words`.
    """

    support: Support
    crop: Area | Focus | None = None
    rotate_deg: float = 0.0
    tone: Tone = field(default_factory=Tone)
    sheet: Sheet = field(default_factory=Sheet)
    seams: Seams = field(default_factory=Seams)
    print: Print = field(default_factory=Print)
    grid: Grid | None = None
    language: str = "en"
