"""What the signs on the map mean."""

from __future__ import annotations

from worker.pages.lengths import counted, stack_name
from worker.pages.map.dimensions import CHAIN
from worker.pages.map.placement import Plate
from worker.pages.page_frame import Job
from worker.pdf.palette import FIRM_MM, GRAPHITE, PENCIL, SANGUINE, WASH, body, strong
from worker.pdf.pen import Pen, Stroke
from worker.spec.plan import Rect

#: The frame of an area that no seam crosses.
PROTECTED = Stroke(ink=GRAPHITE, width_mm=FIRM_MM, dash_mm=(0.4, 0.8))


def draw_legend(pen: Pen, plate: Plate, x: float, y: float) -> None:
    """What the signs mean, in one line."""
    job = plate.job
    k, size_pt = job.scale, job.type_pt(7)
    small, gap, middle = body(size_pt, PENCIL), 4.2 * k, y - 0.8 * k
    if job.plan.seams:
        pen.line((x, middle), (x + 6 * k, middle), Stroke(ink=GRAPHITE, width_mm=FIRM_MM))
        x += 7.2 * k
        x += pen.text((x, y), "seam", small) + gap
    if job.plan.tape_spots:
        tape = Rect(x, y - 1.9 * k, 3 * k, 2.2 * k)
        pen.rect(tape, fill=WASH, stroke=Stroke(ink=SANGUINE, width_mm=0.15))
        x += 4.2 * k
        x += pen.text((x, y), f"tape, {counted(len(job.plan.tape_spots), 'bit')}", small) + gap
    if job.plan.protected_mm:
        pen.rect(Rect(x, y - 1.9 * k, 3 * k, 2.2 * k), stroke=PROTECTED)
        x += 4.2 * k
        x += pen.text((x, y), "protected", small) + gap
    pen.line((x, middle), (x + 8 * k, middle), CHAIN)
    x += 9.2 * k
    x += pen.text((x, y), "diagonal", small) + gap
    if plate.tells_all and job.stacked:
        x += pen.text((x, y), _last_stack(job), strong(size_pt, PENCIL)) + 1.2 * k
        x += pen.text((x, y), "trim stack", small) + gap
    if plate.tells_all:
        pen.circle((x + 1.1 * k, middle), 1.2 * k, fill=SANGUINE)
        x += 3.2 * k
        x += pen.text((x, y), "pass", small) + gap
    right = job.plan.sheet.width_mm - max(15.0 * k, job.spec.sheet.margin_mm.right)
    chosen_mm, even_mm = job.plan.seam_line_chosen_mm, job.plan.seam_line_even_mm
    if job.plan.seams and chosen_mm is not None and even_mm is not None:
        told = _hidden_line(pen, job, (chosen_mm / 10, even_mm / 10), right - x)
        pen.text((right, y), told, small, align="right")


def _last_stack(job: Job) -> str:
    """The sign of a trim stack, as this map has one: not that of a stack it lacks."""
    return stack_name(min(len(job.plan.trim_stacks), 4) - 1)


def _hidden_line(pen: Pen, job: Job, line_cm: tuple[float, float], room: float) -> str:
    """How much line tape would hide along these seams, in the fullest wording that fits."""
    chosen, even = line_cm
    wordings = (
        f"line under the seams {chosen:.0f} cm; evenly split {even:.0f} cm",
        f"line under the seams {chosen:.0f} cm",
    )
    style = body(job.type_pt(7))
    return next((words for words in wordings if pen.width(words, style) <= room), "")
