"""What the signs on the map mean."""

from __future__ import annotations

from worker.pages.lengths import counted, measures_for, stack_name
from worker.pages.map.dimensions import CHAIN
from worker.pages.map.placement import MapPlacement
from worker.pages.pack_content import PackContent
from worker.pdf.canvas import LineStyle, PdfCanvas
from worker.pdf.palette import BLACK, FIRM_MM, HAIR_MM, PENCIL, SANGUINE, WASH, body, strong
from worker.spec.plan import Rect

#: The ring of a piece with nothing to trace: where others have the number of a pass.
BLANK = LineStyle(ink=SANGUINE, width_mm=FIRM_MM)
#: The frame of an area that no seam crosses.
PROTECTED = LineStyle(ink=BLACK, width_mm=FIRM_MM, dash_mm=(0.4, 0.8))


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
        x += canvas.text((x, y), f"tape, {counted(len(pack.plan.tape_spots), 'bit')}", small) + gap
    if pack.plan.protected_mm:
        canvas.rect(Rect(x, y - 1.9 * k, 3 * k, 2.2 * k), stroke=PROTECTED)
        x += 4.2 * k
        x += canvas.text((x, y), "protected", small) + gap
    if pack.plan.seams:
        canvas.line((x, middle), (x + 8 * k, middle), CHAIN)
        x += 9.2 * k
        x += canvas.text((x, y), "diagonal", small) + gap
    if placement.tells_all and pack.stacked:
        x += canvas.text((x, y), _last_stack(pack), strong(size_pt, PENCIL)) + 1.2 * k
        x += canvas.text((x, y), "trim stack", small) + gap
    if placement.tells_all:
        canvas.circle((x + 1.1 * k, middle), 1.2 * k, fill=SANGUINE)
        x += 3.2 * k
        x += canvas.text((x, y), "pass", small) + gap
    if pack.aids.blank and pack.plan.seams:
        canvas.circle((x + 1.1 * k, middle), 1.2 * k, fill=None, stroke=BLANK)
        x += 3.2 * k
        x += canvas.text((x, y), pack.words("blank.here"), small) + gap
    right = pack.plan.sheet.width_mm - max(15.0 * k, pack.spec.sheet.margin_mm.right)
    chosen_mm, even_mm = pack.plan.seam_line_chosen_mm, pack.plan.seam_line_even_mm
    if pack.plan.seams and chosen_mm is not None and even_mm is not None:
        hidden = _hidden_line(canvas, pack, (chosen_mm, even_mm), right - x)
        canvas.text((right, y), hidden, small, align="right")


def _last_stack(pack: PackContent) -> str:
    """The sign of a trim stack, as this map has one: not that of a stack it lacks."""
    return stack_name(min(len(pack.plan.trim_stacks), 4) - 1)


def _hidden_line(
    canvas: PdfCanvas, pack: PackContent, line_mm: tuple[float, float], room: float
) -> str:
    """How much line to trace tape would cover along these seams, in the fullest wording that fits.

    Of evenly spaced seams it is told where they would cover more.
    """
    say = measures_for(pack.spec.sheet.format)
    chosen, even = (say.line(mm) for mm in line_mm)
    wordings = (
        f"tape all along the seams covers {chosen} of line; along even seams {even}",
        f"tape along seams covers {chosen} of line; along even ones {even}",
        f"tape along seams covers {chosen} of line",
    )[0 if line_mm[0] < line_mm[1] else 2 :]
    style = body(pack.type_pt(7))
    return next((words for words in wordings if canvas.width(words, style) <= room), "")
