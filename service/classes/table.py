"""Tables out: CSV that every spreadsheet opens as it is meant, whatever names are in it.

A byte order mark says that it is UTF-8, without which names in other scripts come out as
nonsense; rows end and cells are quoted as RFC 4180 says. A cell that begins like a formula
would be worked out by whoever opens the file, so it gets the sign that makes it text
(OWASP, "CSV Injection"); `service.classes.spreadsheet` takes it off again.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

Cell = str | int | float | None
MARK = "\ufeff"
#: The plain signs, and the wide ones of East Asian keyboards, which are taken alike.
_FORMULA = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"


def write_table(headings: Iterable[str], rows: Iterable[Iterable[Cell]]) -> Iterator[bytes]:
    """The table row by row, as UTF-8."""
    yield MARK.encode()
    for row in (headings, *rows):
        line = io.StringIO(newline="")
        csv.writer(line, lineterminator="\r\n").writerow([_written(cell) for cell in row])
        yield line.getvalue().encode()


def _written(cell: Cell) -> str | int | float:
    """Figures as they are, text on one line and never a formula."""
    if cell is None:
        return ""
    if isinstance(cell, int | float):
        return cell
    text = cell.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "")
    return f"'{text}" if text.lstrip(" ").startswith(tuple(_FORMULA)) else text
