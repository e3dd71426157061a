"""A separator: the sheet that lies before each student's pack in a print run.

Someone stands before three hundred printed sheets and deals them out. So the name is as
large as the page lets it be, the count is told in figures that can be read across a
table, and a tab at the right edge steps down from student to student, so that the places
to part the stack show when it is fanned. It is grey: it is read once.
"""

from __future__ import annotations

from pathlib import Path

from worker.pages.class_papers.handout import Whose, label_range, sheets_in_words
from worker.pages.class_papers.headline import Setting, headline
from worker.pages.lengths import format_title
from worker.pages.map.page import content_of
from worker.pages.page_frame import Job
from worker.pdf.palette import GRAPHITE, HAIR_MM, PAPER, PENCIL, body, display, kicker, strong
from worker.pdf.pen import Pen, Stroke
from worker.pdf.text import clean
from worker.pdf.writer import Paper
from worker.spec.plan import Rect
from worker.units import pt_to_mm

#: Tabs step down in so many places, then begin again at the top.
_STEPS = 12
_TAB_MM = 9.0


def write_separator(path: Path, *, job: Job, whose: Whose) -> None:
    """Write the page alone, of the pack's own size.

    Raises:
        OSError: The file cannot be written.
    """
    with Paper(path, job.plan.sheet, title=clean(whose.name)) as paper:
        draw_separator(Pen(paper, grey=True), job, whose)
        paper.finish_page()
        paper.save()


def draw_separator(pen: Pen, job: Job, whose: Whose) -> None:
    """Draw the page."""
    k, whole = job.scale, content_of(job)
    content = Rect(whole.left, whole.top, whole.width - _TAB_MM * k, whole.height)
    y = _head(pen, job, whose, content)
    y = _name(pen, job, whose, content, y)
    y = _title(pen, job, content, y + 6 * k)
    _figures(pen, job, content, y + 8 * k)
    _foot(pen, job, whose, content)
    _tab(pen, job, whose)


def _head(pen: Pen, job: Job, whose: Whose, content: Rect) -> float:
    k, y = job.scale, content.top + 2 * job.scale
    place = f"{whose.place} of {whose.of}   ·   {format_title(job.spec.sheet.format)}"
    taken = pen.text((content.right, y), place, body(9 * k, PENCIL), align="right")
    group = clean(whose.group) or "Print run"
    room = content.width - taken - 4
    # Capitals of other scripts would not be; and tracking breaks letters that join.
    pen.text((content.left, y), pen.fit(group, strong(9 * k), room), strong(9 * k))
    return y + 10 * k


def _name(pen: Pen, job: Job, whose: Whose, content: Rect, y: float) -> float:
    """Up to two fifths of the page."""
    k = job.scale
    room = Rect(content.left, y, content.width, content.height * 0.4)
    name = headline(pen, whose.name, Setting(style=display(84 * k), smallest_pt=20 * k), room)
    y = name.draw(pen, content.left, y) + 5 * k
    rule = Stroke(ink=GRAPHITE, width_mm=0.8 * k)
    pen.line((content.left, y), (content.right, y), rule)
    return y


def _title(pen: Pen, job: Job, content: Rect, y: float) -> float:
    k = job.scale
    room = Rect(content.left, y, content.width, content.height * 0.16)
    title = clean(job.text.title) or "Untitled"
    words = headline(
        pen, title, Setting(style=display(28 * k), smallest_pt=12 * k, most_lines=2), room
    )
    return words.draw(pen, content.left, y)


def _figures(pen: Pen, job: Job, content: Rect, y: float) -> None:
    """The count and the labels, large; under them what they count."""
    k = job.scale
    large, small = display(60 * k), body(9 * k, PENCIL)
    base = y + pt_to_mm(large.size_pt)
    under = base + 6 * k
    count = str(job.plan.sheet_count)
    wide = pen.text((content.left, base), count, large)
    words = sheets_in_words(job).partition(" ")[2] + f", {job.pages} pages with map and guide"
    pen.text((content.left, under), words, small)
    x = content.left + max(wide, pen.width(words, small)) + 10 * k
    room = content.right - x
    labels = label_range(pen, job, large, room)
    pen.text((x, base), pen.fit(labels, large, room), large)
    labelled = "labels" if job.plan.sheet_count > 1 else "label"
    pen.text((x, under), pen.fit(f"{labelled}, pack {job.text.number}", small, room), small)


def _foot(pen: Pen, job: Job, whose: Whose, content: Rect) -> None:
    k, y = job.scale, content.bottom - 1.5 * job.scale
    rule = Stroke(ink=GRAPHITE, width_mm=HAIR_MM)
    pen.line((content.left, y - 6 * k), (content.right, y - 6 * k), rule)
    words = f"The {job.pages} pages below this one are for this student"
    words += ", the last of the run." if whose.place == whose.of else "; then comes the next."
    pen.text((content.left, y), pen.fit(words, body(9 * k), content.width), body(9 * k))
    top = kicker(7 * k, PENCIL)
    pen.text((content.left, y - 8.5 * k), "DEAL OUT", top)


def _tab(pen: Pen, job: Job, whose: Whose) -> None:
    """At the right edge of what can be printed, further down for each student."""
    k, area, content = job.scale, job.printable, content_of(job)
    step = content.height / _STEPS
    top = content.top + step * ((whose.place - 1) % _STEPS)
    tab = Rect(area.right - _TAB_MM * k, top, _TAB_MM * k, step)
    pen.rect(tab, fill=GRAPHITE)
    style = strong(13 * k, PAPER)
    middle = (tab.left + tab.width / 2, tab.top + step / 2 + pt_to_mm(style.size_pt) * 0.36)
    pen.text(middle, str(whose.place), style, align="centre")
