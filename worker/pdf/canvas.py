"""Drawing in millimetres from the top left of a page, as the plan gives them.

All drawing goes through this canvas, so that millimetres become points in one place, text is
shaped in one place, and a grey page stays grey.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import groupby
from typing import Literal

from worker.pdf.indexed_image import IndexedImage
from worker.pdf.palette import BLACK, HAIR_MM, Ink, TextStyle
from worker.pdf.text import Glyph, Shaped, clean, fit, shape
from worker.pdf.writer import PdfWriter
from worker.spec.plan import Rect
from worker.units import mm_to_pt, pt_to_mm

Align = Literal["left", "centre", "right"]
Point = tuple[float, float]
#: An origin on the page, and the directions of two axes there, all in mm for a millimetre.
Axes = tuple[Point, Point, Point]

#: Lighter letters stand on something dark.
_MIDDLE = 0.5
_SHARE_BEFORE: dict[Align, float] = {"left": 0.0, "centre": 0.5, "right": 1.0}


@dataclass(frozen=True, kw_only=True)
class LineStyle:
    """How a line looks; `dash_mm` alternates drawn and blank."""

    ink: Ink
    width_mm: float = HAIR_MM
    dash_mm: tuple[float, ...] = ()


def line_operators(segments: Iterable[tuple[Point, Point]]) -> str:
    """The path of straight lines, given in millimetres of their own axes."""
    return " ".join(
        f"{mm_to_pt(x):.4f} {mm_to_pt(y):.4f} m {mm_to_pt(x2):.4f} {mm_to_pt(y2):.4f} l"
        for (x, y), (x2, y2) in segments
    )


@dataclass(eq=False)
class PdfCanvas:
    """Draws on the current page of a PDF.

    Attributes:
        pdf: The document that is written.
        grey: Whether every ink is drawn as its grey.
    """

    pdf: PdfWriter
    grey: bool = False
    _fills: Ink | None = field(default=None, init=False)

    def new_page(self) -> None:
        """Reset the graphics state that is cached for the current page."""
        self._fills = None

    def line(self, start: Point, end: Point, stroke: LineStyle) -> None:
        """A straight line, butt ended."""
        self._stroke(stroke)
        self.pdf.line(*self._pt(*start), *self._pt(*end))

    def lines(self, segments: str, places: Iterable[Axes], stroke: LineStyle) -> None:
        """The same straight lines at many places, butt ended.

        Args:
            segments: The lines, from `line_operators`.
            places: Where their origin and both axes come to lie.
            stroke: How they look; widths are those of the page.
        """
        self._stroke(stroke)
        self.pdf.code("\n".join(f"q {self._axes(place)} cm {segments} S Q" for place in places))

    def _axes(self, axes: Axes) -> str:
        """The matrix of axes whose y runs down, like the page's (ISO 32000-1, 8.3.4)."""
        (across, down), (along_x, along_y), (aside_x, aside_y) = axes
        x, y = self._pt(across, down)
        numbers = (along_x, -along_y, aside_x, -aside_y, x, y)
        return " ".join(f"{number:.5f}" for number in numbers)

    def rect(self, area: Rect, *, fill: Ink | None = None, stroke: LineStyle | None = None) -> None:
        """A rectangle; the stroke runs along its middle."""
        if stroke:
            self._stroke(stroke)
        if fill:
            self._fill(fill)
        x, y = self._pt(area.left, area.bottom)
        size = mm_to_pt(area.width), mm_to_pt(area.height)
        self.pdf.rect(x, y, *size, stroke=int(stroke is not None), fill=int(fill is not None))

    def polygon(self, points: Sequence[Point], fill: Ink) -> None:
        """A filled polygon."""
        self._fill(fill)
        path = self.pdf.beginPath()
        path.moveTo(*self._pt(*points[0]))
        for point in points[1:]:
            path.lineTo(*self._pt(*point))
        path.close()
        self.pdf.drawPath(path, stroke=0, fill=1)

    def circle(
        self, centre: Point, radius_mm: float, *, fill: Ink | None, stroke: LineStyle | None = None
    ) -> None:
        """A circle."""
        if stroke:
            self._stroke(stroke)
        if fill:
            self._fill(fill)
        self.pdf.circle(
            *self._pt(*centre),
            mm_to_pt(radius_mm),
            stroke=int(stroke is not None),
            fill=int(fill is not None),
        )

    def width(self, text: str, style: TextStyle) -> float:
        """How wide a text is, in millimetres."""
        return self._width(shape(clean(text), style.face), style)

    def fit(self, text: str, style: TextStyle, room_mm: float) -> str:
        """The text, with an ellipsis where it is wider than the room."""
        spare = mm_to_pt(room_mm) - style.tracking_pt * len(text)
        return fit(clean(text), style.face, style.size_pt, spare)

    def text(
        self,
        at: Point,
        text: str,
        style: TextStyle,
        *,
        align: Align = "left",
        turn_deg: float = 0.0,
    ) -> float:
        """Text on a baseline that starts, is centred or ends at a point.

        `turn_deg` turns it anticlockwise about that point. Returns its width in mm.
        """
        shaped = shape(clean(text), style.face)
        width_mm = self._width(shaped, style)
        before = width_mm * _SHARE_BEFORE[align]
        turn = math.radians(turn_deg)
        cos, sin = math.cos(turn), math.sin(turn)
        x, y = self._pt(at[0] - before * cos, at[1] + before * sin)
        # A printer makes dots of grey, which fray small letters.
        self._fill(BLACK if self.grey and style.ink.luma < _MIDDLE else style.ink)
        matrix = f"{cos:.6f} {sin:.6f} {-sin:.6f} {cos:.6f} {x:.4f} {y:.4f}"
        self.pdf.code(f"BT {matrix} Tm {' '.join(self._show(shaped, style))} ET")
        return width_mm

    def halo(self, at: Point, text: str, style: TextStyle, halo: Ink) -> None:
        """Centred text with a rim that lifts it off a picture."""
        self.halos([(at, (text,))], style, halo)

    def halos(
        self,
        texts: Iterable[tuple[Point, tuple[str, ...]]],
        style: TextStyle,
        halo: Ink,
        *,
        turn_deg: float = 0.0,
    ) -> None:
        """Many such texts, each in parts that are shaped separately; rims are below all texts.

        A mural has some hundred thousand squares to name, made from a thousand parts.
        """
        turn = math.radians(turn_deg)
        cos, sin = math.cos(turn), math.sin(turn)
        shown: dict[str, tuple[float, str]] = {}
        placed = []
        for at, parts in texts:
            for part in parts:
                if part not in shown:
                    shaped = shape(clean(part), style.face)
                    operators = " ".join(self._show(shaped, style))
                    shown[part] = self._width(shaped, style), operators
            before = sum(shown[part][0] for part in parts) / 2
            x, y = self._pt(at[0] - before * cos, at[1] + before * sin)
            matrix = f"{cos:.6f} {sin:.6f} {-sin:.6f} {cos:.6f} {x:.4f} {y:.4f}"
            placed.append(f"{matrix} Tm {' '.join(shown[part][1] for part in parts)}")
        self._stroke(LineStyle(ink=halo, width_mm=pt_to_mm(style.size_pt) * 0.17))
        self.pdf.setLineJoin(1)
        for ink, mode in ((halo, 2), (style.ink, 0)):
            self._fill(ink)
            self.pdf.code("\n".join((f"BT {mode} Tr", *placed, "ET")))

    def jpeg(
        self, jpeg: bytes, size_px: tuple[int, int], area: Rect, *, grey: bool, turned: bool
    ) -> None:
        """A JPEG that fills a rectangle; turned, its top is at the rectangle's right."""
        matrix = self._matrix(area, turned=turned)
        self.pdf.draw_jpeg(jpeg, size_px, grey=grey, matrix=matrix)

    def indexed(self, indexed: IndexedImage, area: Rect, *, turned: bool) -> None:
        """A picture of flat tones that fills a rectangle, turned or not."""
        self.pdf.draw_indexed(indexed, matrix=self._matrix(area, turned=turned))

    def _matrix(self, area: Rect, *, turned: bool) -> str:
        """The matrix from the unit square (u along an image's width, v up) to the page.

        Turned clockwise, u runs down and v rightwards (ISO 32000-1, 8.9.5).
        """
        width, height = mm_to_pt(area.width), mm_to_pt(area.height)
        numbers: tuple[float, ...]
        if turned:
            numbers = (0, -height, width, 0, *self._pt(area.left, area.top))
        else:
            numbers = (width, 0, 0, height, *self._pt(area.left, area.bottom))
        return " ".join(f"{number:.5f}" for number in numbers)

    @contextmanager
    def clipped(self, area: Rect) -> Iterator[None]:
        """Clip what is drawn inside this context to a rectangle; lines keep their weight."""
        x, y = self._pt(area.left, area.bottom)
        size = mm_to_pt(area.width), mm_to_pt(area.height)
        self.pdf.code(f"q {x:.5f} {y:.5f} {size[0]:.5f} {size[1]:.5f} re W n")
        yield
        self._restore()

    @contextmanager
    def sideways(self, width_mm: float) -> Iterator[None]:
        """Draw on the page turned sideways: its left edge is the top of what is drawn.

        Args:
            width_mm: Width of the portrait page, which is the height of the turned one.
        """
        height_mm, self.pdf.height_mm = self.pdf.height_mm, width_mm
        self.pdf.code(f"q 0 -1 1 0 0 {mm_to_pt(height_mm):.5f} cm")
        self._fills = None
        yield
        self._restore()
        self.pdf.height_mm = height_mm

    def _restore(self) -> None:
        """Take back what was set since the last `q`."""
        self.pdf.code("Q")
        self._fills = None

    def _pt(self, x_mm: float, y_mm: float) -> Point:
        return mm_to_pt(x_mm), mm_to_pt(self.pdf.height_mm - y_mm)

    def _fill(self, ink: Ink) -> None:
        if ink == self._fills:
            return
        self._fills = ink
        if self.grey:
            self.pdf.setFillGray(round(ink.luma, 3))
        else:
            self.pdf.setFillColorRGB(ink.red, ink.green, ink.blue)

    def _stroke(self, stroke: LineStyle) -> None:
        if self.grey:
            self.pdf.setStrokeGray(round(stroke.ink.luma, 3))
        else:
            self.pdf.setStrokeColorRGB(stroke.ink.red, stroke.ink.green, stroke.ink.blue)
        self.pdf.setLineWidth(mm_to_pt(stroke.width_mm))
        self.pdf.setDash([mm_to_pt(part) for part in stroke.dash_mm], 0)

    def _width(self, shaped: Shaped, style: TextStyle) -> float:
        return pt_to_mm(shaped.width * style.size_pt + style.tracking_pt * len(shaped.glyphs))

    def _show(self, shaped: Shaped, style: TextStyle) -> list[str]:
        """The operators that show the glyphs, face by face and height by height."""
        parts = []
        runs = groupby(shaped.glyphs, key=lambda glyph: (glyph.face, glyph.up))
        for (name, up), glyphs in runs:
            rise = up * style.size_pt / 1000
            parts.append(f"/{self.pdf.font(name).resource} {style.size_pt:.3f} Tf {rise:.3f} Ts")
            parts.append(f"{style.tracking_pt:.3f} Tc [{self._glyphs(list(glyphs))}] TJ")
        return parts

    def _glyphs(self, glyphs: list[Glyph]) -> str:
        """Codes for TJ, with what shaping moves them by (thousandths, leftwards positive)."""
        use = self.pdf.font(glyphs[0].face)
        parts: list[str] = []
        codes = ""
        for glyph in glyphs:
            if glyph.right:
                codes = _flush(parts, codes, -glyph.right)
            codes += f"{use.cid(glyph.number, glyph.meaning):04X}"
            if abs(glyph.back) > _UNSEEN:
                codes = _flush(parts, codes, glyph.back)
        _flush(parts, codes, 0)
        return " ".join(parts)


#: Thousandths of an em that nobody sees.
_UNSEEN = 0.5


def _flush(parts: list[str], codes: str, move: float) -> str:
    if codes:
        parts.append(f"<{codes}>")
    if move:
        parts.append(f"{move:.1f}")
    return ""
