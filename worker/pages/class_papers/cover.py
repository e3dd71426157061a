"""A cover: the sheet on top of what one student takes home.

It says whose it is, what will be drawn, how the sheets join, and what is in the pack; the
same plate as on the assembly map stands in the middle, drawn anew so that it is sharp.
"""

from __future__ import annotations

from pathlib import Path

from PIL import Image

from worker.pages.class_papers.handout import Whose, label_range, sheet_pages, sheets_in_words
from worker.pages.class_papers.headline import Setting, headline
from worker.pages.map.page import content_of, draw_plate
from worker.pages.map.placement import plate_for
from worker.pages.map.tables import draw_figures
from worker.pages.page_frame import Job
from worker.pdf.palette import GRAPHITE, HAIR_MM, PENCIL, body, display, kicker, strong
from worker.pdf.pen import Pen, Stroke
from worker.pdf.text import clean
from worker.pdf.typeset import LEADING, draw_line, lines
from worker.pdf.writer import Paper
from worker.spec.plan import FIRST_GRID_PAGE, Rect
from worker.units import pt_to_mm

#: The longer side of the faint picture on the plate, in pixels: 130 ppi on A4.
FAINT_PX = 900
#: Letters; no word of a language is as long, but an address may be.
_LONGEST_WORD = 40


def write_cover(path: Path, *, job: Job, whose: Whose, faint: Image.Image | None) -> None:
    """Write the page alone, of the pack's own size; `faint` is None where lines alone are drawn.

    Raises:
        OSError: The file cannot be written.
    """
    with Paper(path, job.plan.sheet, title=f"{clean(whose.name)}, cover") as paper:
        draw_cover(Pen(paper), job, whose, faint)
        paper.finish_page()
        paper.save()


def draw_cover(pen: Pen, job: Job, whose: Whose, faint: Image.Image | None) -> None:
    """Draw the page."""
    k, content = job.scale, content_of(job)
    y = _head(pen, job, whose, content)
    y = _words(pen, job, whose, content, y)
    pen.line((content.left, y), (content.right, y), Stroke(ink=GRAPHITE, width_mm=HAIR_MM))
    y = draw_figures(pen, job, content, y + 7.4 * k) + 2 * k
    top = _contents(pen, job, whose, content)
    room = Rect(content.left, y, content.width, top - y)
    draw_plate(pen, plate_for(job, room), faint)


def _head(pen: Pen, job: Job, whose: Whose, content: Rect) -> float:
    k, y = job.scale, content.top + 2 * job.scale
    number = f"pack {job.text.number}"
    taken = pen.text((content.right, y), number, body(job.type_pt(7), PENCIL), align="right")
    wide = pen.text((content.left, y), "COVER", kicker(job.type_pt(6.8)))
    group, style = clean(whose.group), body(job.type_pt(7), PENCIL)
    room = content.width - taken - wide - 10 * k
    pen.text((content.left + wide + 5 * k, y), pen.fit(group, style, room), style)
    return y + 6 * k


def _words(pen: Pen, job: Job, whose: Whose, content: Rect, y: float) -> float:
    """Name and title."""
    k = job.scale
    room = Rect(content.left, y, content.width, 34 * k)
    name = headline(
        pen, whose.name, Setting(style=display(40 * k), smallest_pt=15 * k, most_lines=2), room
    )
    y = name.draw(pen, content.left, y) + 1.5 * k
    title, room = clean(job.text.title) or "Untitled", Rect(content.left, y, content.width, 16 * k)
    words = headline(
        pen, title, Setting(style=display(18 * k, PENCIL), smallest_pt=9 * k, most_lines=2), room
    )
    return words.draw(pen, content.left, y) + 3.5 * k


def _contents(pen: Pen, job: Job, whose: Whose, content: Rect) -> float:
    """What is in the pack and what the tutor tells, at the foot; returns where it begins."""
    k = job.scale
    size_pt = job.type_pt(8.6)
    unit = pt_to_mm(size_pt)
    told = [*_told(pen, job, content.width * 0.6)]
    if whose.note:
        told.append(_breakable(clean(whose.note).replace("**", "")))
    broken = [line for text in told for line in lines(text, size_pt, content.width)]
    top = content.bottom - unit * LEADING * len(broken) - 3 * k
    pen.line((content.left, top), (content.right, top), Stroke(ink=GRAPHITE, width_mm=HAIR_MM))
    for number, line in enumerate(broken, 1):
        draw_line(pen, (content.left, top + 1.5 * k + unit * LEADING * number), line, size_pt)
    return top - 3 * k


def _breakable(text: str) -> str:
    """With a blank after so many letters of a word that would leave the page."""
    words = text.split(" ")
    parts = [
        word[start : start + _LONGEST_WORD]
        for word in words
        for start in range(0, max(1, len(word)), _LONGEST_WORD)
    ]
    return " ".join(parts)


def _grid(job: Job) -> str:
    """The two pages to draw by eye from, where there is a grid."""
    first = FIRST_GRID_PAGE
    return f", the grid (pages {first}–{first + 1})" if job.spec.grid else ""


def _told(pen: Pen, job: Job, room_mm: float) -> tuple[str, str]:
    labels = label_range(pen, job, strong(job.type_pt(8.6)), room_mm)
    contents = (
        f"**In this pack:** the assembly map (page 1), the guide (pages 2–3){_grid(job)} and "
        f"{sheets_in_words(job)}, **{labels}** ({sheet_pages(job)})."
    )
    first = (
        "**Before you cut:** read the guide, measure the scale bar on each sheet, and tell "
        "your tutor if it is not right. Children never use knives unsupervised."
    )
    return contents, first
