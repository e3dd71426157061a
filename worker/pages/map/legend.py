"""What the signs on the map mean: one line, or two where a language needs them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from worker.pages.lengths import stack_name
from worker.pages.map.placement import MapPlacement
from worker.pages.pack_content import PackContent
from worker.pdf.canvas import LineStyle, PdfCanvas, Point
from worker.pdf.palette import (
    BLACK,
    FIRM_MM,
    HAIR_MM,
    PAPER,
    SANGUINE,
    WASH,
    Ink,
    TextStyle,
    body,
    strong,
)
from worker.pdf.text import width_pt
from worker.spec.plan import Rect
from worker.units import pt_to_mm

#: The ring of a piece with nothing to trace.
BLANK = LineStyle(ink=SANGUINE, width_mm=FIRM_MM)
#: Where a piece that lies under its neighbour ends.
LAP = LineStyle(ink=BLACK, width_mm=HAIR_MM, dash_mm=(0.9, 0.7))
#: The ground of an area that no seam crosses; of a picture it is shown clear.
PROTECTED = Ink(0.86, 0.86, 0.85)
#: Between two signs, and between a sign and its text, on A4.
_GAP_MM, _BESIDE_MM = 4.2, 1.2
#: From the baseline of one line to the next.
_LINE_MM = 3.6


@dataclass(frozen=True, kw_only=True)
class _Sign:
    """A sign of the map with what it means.

    Attributes:
        draw: Draws the sign from a point on the baseline, at its left.
        wide: How wide the sign is.
        text: What it means.
    """

    draw: Callable[[PdfCanvas, Point], object]
    wide: float
    text: str


def draw_tape(canvas: PdfCanvas, area: Rect) -> None:
    """A piece of tape; white on a grey page, where its tint would be as light as the picture."""
    rim = LineStyle(ink=BLACK, width_mm=HAIR_MM)
    canvas.rect(area, fill=PAPER if canvas.grey else WASH, stroke=rim)


def legend_height(pack: PackContent, width_mm: float) -> float:
    """What the legend takes of the page beyond its last line."""
    return (len(_lines(pack, width_mm, all_signs=True)) - 1) * _LINE_MM * pack.scale


def lapped(pack: PackContent) -> str:
    """How far a piece reaches under its neighbour."""
    return pack.words("map.lapped", lap=pack.words.measure(pack.spec.seams.lap_mm, "mm", 2))


def draw_legend(canvas: PdfCanvas, placement: MapPlacement, room: Rect) -> None:
    """The signs from the left, the last line at the foot of the room."""
    pack, style = placement.pack, _style(placement.pack)
    k = pack.scale
    broken = _lines(pack, room.width, all_signs=placement.tells_all)
    for above, line in enumerate(reversed(broken)):
        x, y = room.left, room.bottom - 0.6 * k - above * _LINE_MM * k
        for sign in line:
            sign.draw(canvas, (x, y))
            x += sign.wide + _BESIDE_MM * k
            x += canvas.text((x, y), sign.text, style) + _GAP_MM * k


def _lines(pack: PackContent, width_mm: float, *, all_signs: bool) -> list[list[_Sign]]:
    """The signs in as many lines as they take."""
    style, k = _style(pack), pack.scale
    broken: list[list[_Sign]] = [[]]
    used = 0.0
    for sign in _signs(pack, all_signs=all_signs):
        wide = sign.wide + _BESIDE_MM * k + pt_to_mm(width_pt(sign.text, style.face, style.size_pt))
        if broken[-1] and used + wide > width_mm:
            broken.append([])
            used = 0.0
        broken[-1].append(sign)
        used += wide + _GAP_MM * k
    return broken


def _style(pack: PackContent) -> TextStyle:
    return body(pack.type_pt(7))


def _signs(pack: PackContent, *, all_signs: bool) -> Iterator[_Sign]:
    """The signs that this map has; `all_signs`: also those below the labels."""
    words, k = pack.words, pack.scale
    if pack.plan.seams:
        firm = LineStyle(ink=BLACK, width_mm=FIRM_MM)
        yield _line(firm, 6 * k, k, words("map.seam"))
    if pack.plan.seams and pack.spec.seams.joint == "lap":
        yield _line(LAP, 6 * k, k, lapped(pack))
    if pack.plan.tape_spots:
        yield _Sign(
            draw=lambda canvas, at: draw_tape(canvas, _swatch(at, k)),
            wide=3 * k,
            text=words("map.tape"),
        )
    if pack.plan.protected_mm:
        yield _Sign(
            draw=lambda canvas, at: canvas.rect(_swatch(at, k), fill=PROTECTED),
            wide=3 * k,
            text=words("map.protected"),
        )
    if all_signs and pack.stacked:
        number, bold = _last_stack(pack), strong(_style(pack).size_pt)
        yield _Sign(
            draw=lambda canvas, at: canvas.text(at, number, bold),
            wide=pt_to_mm(width_pt(number, bold.face, bold.size_pt)),
            text=words("map.stack"),
        )
    if pack.aids.blank and pack.plan.seams:
        yield _Sign(
            draw=lambda canvas, at: canvas.circle(_ring(at, k), 1.2 * k, fill=None, stroke=BLANK),
            wide=2.2 * k,
            text=words("blank.here"),
        )


def _line(style: LineStyle, wide: float, k: float, text: str) -> _Sign:
    def draw(canvas: PdfCanvas, at: Point) -> None:
        middle = at[1] - 0.8 * k
        canvas.line((at[0], middle), (at[0] + wide, middle), style)

    return _Sign(draw=draw, wide=wide, text=text)


def _ring(at: Point, k: float) -> Point:
    """The middle of a ring at this place."""
    return at[0] + 1.1 * k, at[1] - 0.8 * k


def _swatch(at: Point, k: float) -> Rect:
    return Rect(at[0], at[1] - 1.9 * k, 3 * k, 2.2 * k)


def _last_stack(pack: PackContent) -> str:
    """The sign of a trim stack, as this map has one: not that of a stack it lacks."""
    return stack_name(min(len(pack.plan.trim_stacks), 4) - 1)
