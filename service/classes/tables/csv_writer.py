"""Writes tables as CSV that spreadsheets open correctly, with any names in them.

A byte order mark marks it as UTF-8, without which names in other scripts are misread; line
ends and quoting follow RFC 4180. A spreadsheet would evaluate a cell that begins like a
formula, so it gets an apostrophe, which makes it text (OWASP, "CSV Injection");
`service.classes.tables.spreadsheet` removes it again.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

Cell = str | int | float | None
MARK = "\ufeff"
#: First characters of formulas, also in the full width of East Asian keyboards.
_FORMULA = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"


def write_table(headings: Iterable[str], rows: Iterable[Iterable[Cell]]) -> Iterator[bytes]:
    """The table row by row, as UTF-8."""
    yield MARK.encode()
    for row in (headings, *rows):
        line = io.StringIO(newline="")
        csv.writer(line, lineterminator="\r\n").writerow([_written(cell) for cell in row])
        yield line.getvalue().encode()


def _written(cell: Cell) -> str | int | float:
    """A cell as it is written: numbers unchanged, text never as a formula."""
    if cell is None:
        return ""
    if isinstance(cell, int | float):
        return cell
    text = cell.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "")
    return f"'{text}" if text.lstrip(" ").startswith(tuple(_FORMULA)) else text
