"""How a sheet is named: by row and place from the left, as `2·3`.

The only place that writes and reads these names. They have no letters, since A4 is paper and a4
a square of the grid. The dot is for the eye; in addresses and names of files a hyphen stands for
it, because a dot in the middle of the line must be percent-encoded there.
"""

from __future__ import annotations

import re

_DOT = "\u00b7"
#: The one form of a label in addresses and names of files: `2-3`.
ADDRESS = r"[1-9][0-9]{0,3}-[1-9][0-9]{0,3}"
#: What people type between the figures: the dot, one that keyboards have, or a dash.
_TYPED = re.compile(r"\s*([1-9][0-9]{0,3})\s*[\u00b7.\-\u2013]\s*([1-9][0-9]{0,3})\s*", re.ASCII)


def sheet_label(row: int, column: int) -> str:
    """The label of a sheet whose row and column are counted from 0: `2·3` for 1 and 2."""
    return f"{row + 1}{_DOT}{column + 1}"


def address_label(row: int, column: int) -> str:
    """The same in addresses and names of files: `2-3`."""
    return f"{row + 1}-{column + 1}"


def read_label(text: str) -> tuple[int, int]:
    """Row and column, from 0, of a label in any form: `2·3`, `2-3`, `2.3`.

    Raises:
        ValueError: It names no sheet.
    """
    found = _TYPED.fullmatch(text)
    if found is None:
        message = f"“{text}” names no sheet: write its row and its place in it, such as 2-3."
        raise ValueError(message)
    return int(found[1]) - 1, int(found[2]) - 1
