"""The student who gets a pack, and how a class's pages state its sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from worker.pages.lengths import label_range
from worker.pages.pack_content import PackContent
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


def all_labels(pack: PackContent) -> str:
    """`1·1 to 2·3`; both, where there are two."""
    labels = [piece.label for piece in pack.plan.pieces]
    return label_range(pack.words, labels) if len(labels) > 2 else ", ".join(labels)  # noqa: PLR2004 - a range of two would say no more than a comma.


def sheet_pages(pack: PackContent) -> str:
    """`pages 4–9`."""
    return pages_in_words(pack.words, (pack.plan.first_sheet_page, pack.pages))


def pages_in_words(words: Words, pages: Sequence[int]) -> str:
    """The pages from the first to the last: `page 1`, `pages 2–3`."""
    first, last = pages[0], pages[-1]
    if first == last:
        return words("papers.page", page=first)
    return words("papers.pages", first=first, last=last)
