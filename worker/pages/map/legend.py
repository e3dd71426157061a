"""What the signs on the map mean."""

from __future__ import annotations

from worker.pages.lengths import stack_name
from worker.pages.map.placement import MapPlacement
from worker.pages.pack_content import PackContent
from worker.pdf.canvas import LineStyle, PdfCanvas
from worker.pdf.palette import BLACK, FIRM_MM, HAIR_MM, PENCIL, SANGUINE, WASH, Ink, body, strong
from worker.spec.plan import Rect

#: The ring of a piece with nothing to trace.
BLANK = LineStyle(ink=SANGUINE, width_mm=FIRM_MM)
#: The ground of an area that no seam crosses; of a picture it is shown clear.
PROTECTED = Ink(0.86, 0.86, 0.85)


def draw_legend(canvas: PdfCanvas, placement: MapPlacement, x: float, y: float) -> None:
    """What the signs mean, in one line."""
    pack = placement.pack
    k, size_pt = pack.scale, pack.type_pt(7)
    small, gap, middle = body(size_pt, PENCIL), 4.2 * k, y - 0.8 * k
    if pack.plan.seams:
        canvas.line((x, middle), (x + 6 * k, middle), LineStyle(ink=BLACK, width_mm=FIRM_MM))
        x += 7.2 * k
        x += canvas.text((x, y), "seam", small) + gap
    if pack.plan.tape_spots:
        tape = Rect(x, y - 1.9 * k, 3 * k, 2.2 * k)
        canvas.rect(tape, fill=WASH, stroke=LineStyle(ink=BLACK, width_mm=HAIR_MM))
        x += 4.2 * k
        x += canvas.text((x, y), "tape, to tack", small) + gap
    if pack.plan.protected_mm:
        canvas.rect(Rect(x, y - 1.9 * k, 3 * k, 2.2 * k), fill=PROTECTED)
        x += 4.2 * k
        x += canvas.text((x, y), "protected", small) + gap
    if placement.tells_all and pack.stacked:
        x += canvas.text((x, y), _last_stack(pack), strong(size_pt, PENCIL)) + 1.2 * k
        x += canvas.text((x, y), "trim stack", small) + gap
    if pack.aids.blank and pack.plan.seams:
        canvas.circle((x + 1.1 * k, middle), 1.2 * k, fill=None, stroke=BLANK)
        x += 3.2 * k
        x += canvas.text((x, y), pack.words("blank.here"), small) + gap


def _last_stack(pack: PackContent) -> str:
    """The sign of a trim stack, as this map has one: not that of a stack it lacks."""
    return stack_name(min(len(pack.plan.trim_stacks), 4) - 1)
