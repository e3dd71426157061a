"""The catalog of a document, for single files and bound ones alike.

It asks for printing at actual size, on one side and from the tray of its own paper: a print
room's defaults (fit to page, both sides) would spoil every sheet (ISO 32000-1, table 150). It
names the language (14.9.2), gives each page the label printed on it (12.4.2), and lists its
parts as bookmarks (12.3.3).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from worker.pdf.text import clean

#: `PickTrayByPDFSize` and `Duplex` came with 1.7.
HEADER = b"%PDF-1.7\n%\xc7\xe4\xf6\xa7\n"
#: What the words on our pages are written in.
LANGUAGE = "en"
_PREFERENCES = b"<< /PrintScaling /None /Duplex /Simplex /PickTrayByPDFSize true >>"


@dataclass(frozen=True, kw_only=True)
class PageName:
    """What a page is called.

    Attributes:
        label: Shown by viewers in place of the page's number; empty: its number.
        bookmark: The page's name in the list of bookmarks; empty: it is not listed.
    """

    label: str = ""
    bookmark: str = ""


@dataclass(frozen=True, kw_only=True)
class Bookmark:
    """An entry of the list of contents.

    Attributes:
        title: In any script.
        page: Number of the page's object.
        below: Entries that are shown once this one is opened.
    """

    title: str
    page: int
    below: list[Bookmark] = field(default_factory=list)


def text_string(text: str) -> bytes:
    """A text string in any script (ISO 32000-1, 7.9.2.2), in hexadecimal."""
    return b"<FEFF%b>" % clean(text).encode("utf-16-be").hex().upper().encode()


def catalog(*, pages: int, labels: Sequence[str], outline: int | None) -> bytes:
    """The document's catalog.

    Args:
        pages: Number of the object that is the root of the tree of pages.
        labels: Labels of all pages in order; an empty one stands for the page's number.
        outline: Number of the list of bookmarks, which opens with the document; None: it
            has none.
    """
    opens = b"/UseNone" if outline is None else b"/UseOutlines /Outlines %d 0 R" % outline
    page_labels = b" /PageLabels << /Nums [%b] >>" % _labels(labels) if any(labels) else b""
    return b"<< /Type /Catalog /Pages %d 0 R /Lang %b /PageMode %b /ViewerPreferences %b%b >>" % (
        pages,
        text_string(LANGUAGE),
        opens,
        _PREFERENCES,
        page_labels,
    )


def _labels(labels: Sequence[str]) -> bytes:
    """A range of one page for each label; pages without one keep their number."""
    ranges = [
        b"%d << /P %b >>" % (index, text_string(label))
        if label
        else b"%d << /S /D /St %d >>" % (index, index + 1)
        for index, label in enumerate(labels)
    ]
    return b" ".join(ranges)


def outline_objects(bookmarks: Sequence[Bookmark], root: int) -> dict[int, bytes]:
    """The list of bookmarks: its root and its entries, numbered from `root` on."""
    found = {root: b""}
    ends = _level(found, bookmarks, root)
    found[root] = b"<< /Type /Outlines /Count %d%b >>" % (len(bookmarks), ends)
    return found


def entries(bookmarks: Sequence[Bookmark]) -> int:
    """How many entries there are on all levels."""
    return sum(1 + entries(bookmark.below) for bookmark in bookmarks)


def _level(found: dict[int, bytes], bookmarks: Sequence[Bookmark], parent: int) -> bytes:
    """Write the entries below a parent; returns where they begin and end, for the parent."""
    numbers, free = [], parent + 1
    for bookmark in bookmarks:
        numbers.append(free)
        free += 1 + entries(bookmark.below)
    for place, bookmark in enumerate(bookmarks):
        beside = b" /Prev %d 0 R" % numbers[place - 1] if place else b""
        beside += b" /Next %d 0 R" % numbers[place + 1] if place + 1 < len(numbers) else b""
        below = _level(found, bookmark.below, numbers[place])
        # A count below nothing says that the entry is closed.
        below += b" /Count %d" % -len(bookmark.below) if bookmark.below else b""
        found[numbers[place]] = b"<< /Title %b /Parent %d 0 R /Dest [%d 0 R /Fit]%b%b >>" % (
            text_string(bookmark.title),
            parent,
            bookmark.page,
            beside,
            below,
        )
    return b" /First %d 0 R /Last %d 0 R" % (numbers[0], numbers[-1]) if numbers else b""
