"""A cover: the sheet on top of what one student takes home.

It names the student, what will be drawn, how the sheets join, and what is in the pack. The
drawing of the assembly map is in the middle, drawn anew so that it is sharp.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PIL import Image

from worker.pages.class_papers.headline import HeadlineStyle, headline
from worker.pages.class_papers.recipient import (
    Recipient,
    all_labels,
    pages_in_words,
    sheet_pages,
    sheets_in_words,
)
from worker.pages.map.page import content_of, draw_map_picture
from worker.pages.map.placement import place_map
from worker.pages.map.tables import draw_figures
from worker.pages.pack_content import PackContent
from worker.pdf.canvas import LineStyle, PdfCanvas
from worker.pdf.palette import BLACK, HAIR_MM, PENCIL, body, display, kicker
from worker.pdf.text import clean
from worker.pdf.typeset import LEADING, draw_line, lines
from worker.pdf.writer import PdfWriter
from worker.spec.plan import Rect
from worker.units import pt_to_mm

#: The longer side of the faint picture, in pixels: 130 ppi on A4.
FAINT_PX = 900
#: Letters; no word of a language is as long, but an address may be.
_LONGEST_WORD = 40


def write_cover(
    path: Path, *, pack: PackContent, recipient: Recipient, faint: Image.Image | None
) -> None:
    """Write the page alone, of the pack's own size; `faint` is None where lines alone are drawn.

    Raises:
        OSError: The file cannot be written.
    """
    with PdfWriter(path, pack.plan.sheet, title=cover_title(pack, recipient)) as pdf:
        canvas = PdfCanvas(pdf, grey=pack.spec.print.black_only)
        draw_cover(canvas, pack, recipient, faint)
        pdf.finish_page()
        pdf.save()


def cover_title(pack: PackContent, recipient: Recipient) -> str:
    """What the page is called."""
    return pack.words("papers.cover-of", name=clean(recipient.name))


def draw_cover(
    canvas: PdfCanvas, pack: PackContent, recipient: Recipient, faint: Image.Image | None
) -> None:
    """Draw the page."""
    k, content = pack.scale, content_of(pack)
    y = _head(canvas, pack, recipient, content)
    y = _words(canvas, pack, recipient, content, y)
    canvas.line((content.left, y), (content.right, y), LineStyle(ink=BLACK, width_mm=HAIR_MM))
    y = draw_figures(canvas, pack, content, y + 7.4 * k) + 2 * k
    top = _contents(canvas, pack, recipient, content)
    room = Rect(content.left, y, content.width, top - y)
    draw_map_picture(canvas, replace(place_map(pack, room), bare=True), faint)


def _head(canvas: PdfCanvas, pack: PackContent, recipient: Recipient, content: Rect) -> float:
    k, y, words = pack.scale, content.top + 2 * pack.scale, pack.words
    number = words("sheet.pack", number=pack.text.number)
    taken = canvas.text((content.right, y), number, body(pack.type_pt(7)), align="right")
    wide = canvas.text((content.left, y), words("papers.cover-kicker"), kicker(pack.type_pt(6.8)))
    group, style = clean(recipient.group), body(pack.type_pt(7))
    room = content.width - taken - wide - 10 * k
    canvas.text((content.left + wide + 5 * k, y), canvas.fit(group, style, room), style)
    return y + 6 * k


def _words(
    canvas: PdfCanvas, pack: PackContent, recipient: Recipient, content: Rect, y: float
) -> float:
    """Name and title."""
    k = pack.scale
    room = Rect(content.left, y, content.width, 34 * k)
    name = headline(
        canvas,
        recipient.name,
        HeadlineStyle(style=display(40 * k), smallest_pt=15 * k, most_lines=2),
        room,
    )
    y = name.draw(canvas, content.left, y) + 1.5 * k
    room = Rect(content.left, y, content.width, 16 * k)
    words = headline(
        canvas,
        pack.title,
        HeadlineStyle(style=display(18 * k, PENCIL), smallest_pt=9 * k, most_lines=2),
        room,
    )
    return words.draw(canvas, content.left, y) + 3.5 * k


def _contents(canvas: PdfCanvas, pack: PackContent, recipient: Recipient, content: Rect) -> float:
    """The pack's contents and the tutor's note, at the foot; returns where they begin, in mm."""
    k = pack.scale
    size_pt = pack.type_pt(8.6)
    unit = pt_to_mm(size_pt)
    texts = [*_texts(pack)]
    if recipient.note:
        texts.append(_breakable(clean(recipient.note).replace("**", "")))
    broken = [line for text in texts for line in lines(text, size_pt, content.width)]
    top = content.bottom - unit * LEADING * len(broken) - 3 * k
    canvas.line((content.left, top), (content.right, top), LineStyle(ink=BLACK, width_mm=HAIR_MM))
    for number, line in enumerate(broken, 1):
        draw_line(canvas, (content.left, top + 1.5 * k + unit * LEADING * number), line, size_pt)
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


def _texts(pack: PackContent) -> tuple[str, str]:
    words, plan = pack.words, pack.plan
    sheets, pages = sheets_in_words(pack), sheet_pages(pack)
    parts = [words("papers.map", page=1)] if plan.map_pages else []
    parts.append(words("papers.guide", pages=pages_in_words(words, plan.guide_pages)))
    if pack.spec.grid:
        first = plan.first_grid_page
        parts.append(words("papers.grid", pages=pages_in_words(words, (first, first + 1))))
    if plan.seams:
        parts.append(words("papers.labelled", sheets=sheets, labels=all_labels(pack), pages=pages))
        first_of_all = words("papers.first", label=plan.sheet_to_test.label)
    else:
        parts.append(words("papers.alone", sheets=sheets, pages=pages))
        first_of_all = words("papers.first-alone")
    return words("papers.contents", parts=words.listed(parts)), first_of_all
