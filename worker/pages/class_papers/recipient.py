"""The student who gets a pack, and how a class's pages state its sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from worker.pages.lengths import label_list, label_range
from worker.pages.pack_content import PackContent
from worker.pdf.canvas import PdfCanvas
from worker.pdf.palette import TextStyle
from worker.words.catalogue import Words


@dataclass(frozen=True, kw_only=True)
class Recipient:
    """The student who gets a pack, and their place in a print run.

    Attributes:
        name: The student's, in any script; as on the roster.
        group: The class's name.
        place: Place in the run, from 1.
        of: How many students the run has.
        note: The tutor's note for this student.
    """

    name: str
    group: str = ""
    place: int = 1
    of: int = 1
    note: str = ""


def sheets_in_words(pack: PackContent) -> str:
    """`6 sheets`."""
    return pack.words("papers.sheets", count=pack.plan.sheet_count)


def labels_in_room(canvas: PdfCanvas, pack: PackContent, style: TextStyle, room_mm: float) -> str:
    """All labels where they fit, else the first and the last."""
    labels = [piece.label for piece in pack.plan.pieces]
    listed = label_list(pack.words, labels)
    if canvas.width(listed, style) <= room_mm:
        return listed
    return label_range(pack.words, labels)


def sheet_pages(pack: PackContent) -> str:
    """`pages 4–9`."""
    return pages_in_words(pack.words, (pack.plan.first_sheet_page, pack.pages))


def pages_in_words(words: Words, pages: Sequence[int]) -> str:
    """The pages from the first to the last: `page 1`, `pages 2–3`."""
    first, last = pages[0], pages[-1]
    if first == last:
        return words("papers.page", page=first)
    return words("papers.pages", first=first, last=last)
