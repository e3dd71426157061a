"""A separator: the sheet before each student's pack in a print run.

A tutor parts some three hundred printed sheets by these pages. So the name is as large as the
page allows, the number of sheets can be read across a table, and a tab at the right edge steps
down from student to student, which shows where to part a fanned stack. It is grey: it is read
once.
"""

from __future__ import annotations

from pathlib import Path

from worker.pages.class_papers.headline import HeadlineStyle, headline
from worker.pages.class_papers.recipient import Recipient, all_labels
from worker.pages.lengths import format_title
from worker.pages.map.page import content_of
from worker.pages.pack_content import PackContent
from worker.pdf.canvas import LineStyle, PdfCanvas
from worker.pdf.palette import (
    BLACK,
    HAIR_MM,
    PAPER,
    body,
    display,
    kicker,
    strong,
)
from worker.pdf.text import clean
from worker.pdf.writer import PdfWriter
from worker.spec.plan import Rect
from worker.units import pt_to_mm

#: Tabs step down in so many places, then begin again at the top.
_STEPS = 12
_TAB_MM = 9.0


def write_separator(path: Path, *, pack: PackContent, recipient: Recipient) -> None:
    """Write the page alone, of the pack's own size.

    Raises:
        OSError: The file cannot be written.
    """
    with PdfWriter(path, pack.plan.sheet, title=clean(recipient.name)) as pdf:
        draw_separator(PdfCanvas(pdf, grey=True), pack, recipient)
        pdf.finish_page()
        pdf.save()


def draw_separator(canvas: PdfCanvas, pack: PackContent, recipient: Recipient) -> None:
    """Draw the page."""
    k, whole = pack.scale, content_of(pack)
    content = Rect(whole.left, whole.top, whole.width - _TAB_MM * k, whole.height)
    y = _head(canvas, pack, recipient, content)
    y = _name(canvas, pack, recipient, content, y)
    y = _title(canvas, pack, content, y + 6 * k)
    _figures(canvas, pack, content, y + 8 * k)
    _foot(canvas, pack, recipient, content)
    _tab(canvas, pack, recipient)


def _head(canvas: PdfCanvas, pack: PackContent, recipient: Recipient, content: Rect) -> float:
    k, y = pack.scale, content.top + 2 * pack.scale
    place = pack.words(
        "papers.place",
        place=recipient.place,
        of=recipient.of,
        sheet=format_title(pack.spec.sheet.format),
    )
    taken = canvas.text((content.right, y), place, body(9 * k), align="right")
    group = clean(recipient.group) or pack.words("papers.print-run")
    room = content.width - taken - 4
    # Capitals of other scripts would not be; and tracking breaks letters that join.
    canvas.text((content.left, y), canvas.fit(group, strong(9 * k), room), strong(9 * k))
    return y + 10 * k


def _name(
    canvas: PdfCanvas, pack: PackContent, recipient: Recipient, content: Rect, y: float
) -> float:
    """Up to two fifths of the page."""
    k = pack.scale
    room = Rect(content.left, y, content.width, content.height * 0.4)
    name = headline(
        canvas, recipient.name, HeadlineStyle(style=display(84 * k), smallest_pt=20 * k), room
    )
    y = name.draw(canvas, content.left, y) + 5 * k
    rule = LineStyle(ink=BLACK, width_mm=0.8 * k)
    canvas.line((content.left, y), (content.right, y), rule)
    return y


def _title(canvas: PdfCanvas, pack: PackContent, content: Rect, y: float) -> float:
    k = pack.scale
    room = Rect(content.left, y, content.width, content.height * 0.16)
    words = headline(
        canvas,
        pack.title,
        HeadlineStyle(style=display(28 * k), smallest_pt=12 * k, most_lines=2),
        room,
    )
    return words.draw(canvas, content.left, y)


def _figures(canvas: PdfCanvas, pack: PackContent, content: Rect, y: float) -> None:
    """The count and the labels, large; under them what they count."""
    k = pack.scale
    large, small = display(60 * k), body(9 * k)
    base = y + pt_to_mm(large.size_pt)
    under = base + 6 * k
    count = str(pack.plan.sheet_count)
    wide = canvas.text((content.left, base), count, large)
    counted = pack.words("papers.count-alone", pages=pack.pages)
    if pack.plan.map_pages:
        counted = pack.words("papers.count", count=pack.plan.sheet_count, pages=pack.pages)
    canvas.text((content.left, under), counted, small)
    x = content.left + max(wide, canvas.width(counted, small)) + 10 * k
    room = content.right - x
    number = pack.words("sheet.pack", number=pack.text.number)
    if pack.plan.seams:
        labels = all_labels(pack)
        fitting = min(1.0, room / canvas.width(labels, large))
        canvas.text((x, base), labels, display(large.size_pt * fitting))
        number = pack.words("papers.labels", number=pack.text.number)
    canvas.text((x, under), canvas.fit(number, small, room), small)


def _foot(canvas: PdfCanvas, pack: PackContent, recipient: Recipient, content: Rect) -> None:
    k, y = pack.scale, content.bottom - 1.5 * pack.scale
    rule = LineStyle(ink=BLACK, width_mm=HAIR_MM)
    canvas.line((content.left, y - 6 * k), (content.right, y - 6 * k), rule)
    last = recipient.place == recipient.of
    text = pack.words("papers.last" if last else "papers.next", pages=pack.pages)
    size = 9 * k * min(1.0, content.width / canvas.width(text, body(9 * k)))
    canvas.text((content.left, y), text, body(size))
    top = kicker(7 * k, BLACK)
    canvas.text((content.left, y - 8.5 * k), pack.words("papers.hand-out"), top)


def _tab(canvas: PdfCanvas, pack: PackContent, recipient: Recipient) -> None:
    """At the right edge of what can be printed, further down for each student."""
    k, area, content = pack.scale, pack.printable, content_of(pack)
    step = content.height / _STEPS
    top = content.top + step * ((recipient.place - 1) % _STEPS)
    tab = Rect(area.right - _TAB_MM * k, top, _TAB_MM * k, step)
    canvas.rect(tab, fill=BLACK)
    style = strong(13 * k, PAPER)
    middle = (tab.left + tab.width / 2, tab.top + step / 2 + pt_to_mm(style.size_pt) * 0.36)
    canvas.text(middle, str(recipient.place), style, align="centre")
