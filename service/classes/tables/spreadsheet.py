"""Parses tables as spreadsheets save them, and lists as people paste them, into rows.

A spreadsheet saves CSV (RFC 4180) with commas or, where a comma is the decimal sign, with
semicolons; with a byte order mark or without; in UTF-8, in UTF-16, or in the code page of
the machine. What cannot be read for certain is refused with its line: a name that is wrong
without notice is worse than a file that has to be saved again. No library is used here, since
the common ones guess encodings and delimiters.
"""

from __future__ import annotations

import codecs
import csv
import io
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

from worker.errors import TableUnreadable

#: A class set with long notes takes some tens of kilobytes.
MAX_BYTES = 1_000_000
MAX_ROWS = 2000
MAX_COLUMNS = 60
_DELIMITERS = "\t;,"
_SAVE_ANEW = "Save it as CSV in UTF-8, or copy the cells and paste them."
#: Byte order marks, the longer first: UTF-32's begins like UTF-16's.
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
#: The first bytes of spreadsheets' own formats: ZIP (XLSX, ODS) and OLE (XLS).
_WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
#: With a larger share of letters outside ASCII in a word the code page was another one.
_MOST_FOREIGN = 0.5


@dataclass(frozen=True)
class Row:
    """One row.

    Attributes:
        line: The line on which it begins, from 1.
        cells: Its values, without outer blanks.
        comma: Whether commas separate the cells.
    """

    line: int
    cells: tuple[str, ...]
    comma: bool = False

    @property
    def empty(self) -> bool:
        """Whether all cells are empty."""
        return not any(self.cells)


def read_rows(data: bytes | str) -> list[Row]:
    """All rows that are not empty.

    Args:
        data: A file's bytes, or text that was pasted.

    Raises:
        TableUnreadable: It is too large, not text, or quoted wrongly; gives the line.
    """
    text = decode(data) if isinstance(data, bytes) else data.removeprefix("\ufeff")
    if len(text) > MAX_BYTES:
        raise TableUnreadable(f"The table is too large: at most {MAX_BYTES:,} letters are read.")
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise TableUnreadable(f"Line {line} is no text. {_SAVE_ANEW}", line=line)
    rows = [row for row in _parse(text, _delimiter(text)) if not row.empty]
    if len(rows) > MAX_ROWS:
        raise TableUnreadable(f"The table has {len(rows)} rows; at most {MAX_ROWS} are read.")
    return rows


def decode(data: bytes) -> str:
    """Decode bytes: by their mark, as UTF-16 or UTF-8, or as Windows-1252.

    Raises:
        TableUnreadable: It is none of these for certain.
    """
    if len(data) > MAX_BYTES:
        raise TableUnreadable(f"The file is too large: at most {MAX_BYTES:,} bytes are read.")
    if data.startswith(_WORKBOOKS):
        raise TableUnreadable(f"This is a spreadsheet's own file, and no CSV. {_SAVE_ANEW}")
    encoding = next((name for mark, name in _MARKS if data.startswith(mark)), None)
    encoding = encoding or _utf_16(data) or "utf-8"
    try:
        return data.decode(encoding).removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        return _western(data, line)


def fold(text: str) -> str:
    """A heading or a name for comparison: without case, punctuation and composed forms."""
    plain = unicodedata.normalize("NFKC", text).casefold()
    kept = (letter if unicodedata.category(letter)[0] in "LMNS" else " " for letter in plain)
    return " ".join("".join(kept).split())


def _utf_16(data: bytes) -> str | None:
    """UTF-16 without a mark: recognized by the NUL bytes in ASCII letters and line ends."""
    if len(data) % 2 or b"\0" not in data:
        return None
    odd, even = data[1::2].count(0), data[::2].count(0)
    return "utf-16-le" if odd > even else "utf-16-be"


def _western(data: bytes, line: int) -> str:
    """Decode Windows-1252, as western spreadsheets save it, where that gives words."""
    refused = TableUnreadable(f"The letters of line {line} cannot be read. {_SAVE_ANEW}", line=line)
    try:
        text = data.decode("windows-1252")
    except UnicodeDecodeError:
        raise refused from None
    for word in text.split():
        foreign = [letter for letter in word if not letter.isascii()]
        if len(foreign) > 1 and len(foreign) > _MOST_FOREIGN * len(word):
            raise refused
        if any(unicodedata.category(letter)[0] in "CS" for letter in foreign):
            raise refused
    return text


def _delimiter(text: str) -> str:
    """The delimiter that gives the most rows the same number of columns, by default a comma."""
    first, _, _ = text.partition("\n")
    if first.casefold().startswith("sep=") and len(first.strip()) == len("sep=") + 1:
        return first.strip()[-1]
    sample = text[:20_000]
    return max(_DELIMITERS, key=lambda sign: _agreement(sample, sign))


def _agreement(sample: str, sign: str) -> tuple[int, int]:
    """How many rows this delimiter splits into the most common number of columns, and that."""
    try:
        counts = [len(cells) for cells in csv.reader(io.StringIO(sample), delimiter=sign) if cells]
    except csv.Error:
        return 0, 0
    divided = [count for count in counts if count > 1]
    usual = max(set(divided), key=divided.count, default=0)
    return divided.count(usual) if divided else 0, usual


def _parse(text: str, sign: str) -> Iterator[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=sign, strict=True)
    line = 1
    try:
        for number, cells in enumerate(reader):
            if number == 0 and len(cells) <= 2 and text.casefold().startswith("sep="):  # noqa: PLR2004 - the sign itself divides the line in two.
                line = reader.line_num + 1
                continue
            if len(cells) > MAX_COLUMNS:
                message = f"Line {line} has {len(cells)} columns; at most {MAX_COLUMNS} are read."
                raise TableUnreadable(message, line=line)
            yield Row(line, tuple(_cell(cell) for cell in cells), sign == ",")
            line = reader.line_num + 1
    except csv.Error as error:
        message = (
            f'The quotation marks of line {line} do not match: a cell that begins with " must '
            'end with ", and " inside it is written twice.'
        )
        raise TableUnreadable(message, line=line) from error


def _cell(text: str) -> str:
    """A cell without outer blanks, and without an apostrophe that guards a formula."""
    text = " ".join(text.replace("\u00a0", " ").split())
    guarded = len(text) > 1 and text[0] == "'" and text[1] in "=+-@"
    return unicodedata.normalize("NFC", text[1:] if guarded else text)
