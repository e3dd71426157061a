"""Labels of sheets as people write them, in the one form that addresses have."""

from __future__ import annotations

import re

#: Between row and place: the dot of print and documents, one that keyboards have, or a dash.
_LABEL = re.compile(r"\s*([1-9][0-9]{0,3})\s*[\u00b7.\-\u2013]\s*([1-9][0-9]{0,3})\s*", re.ASCII)


def in_address(label: str) -> str:
    """A label in an address: `2-3` for `2·3`, `2.3` and `2-3`; anything else as it is.

    The service says what it has no sheet of.
    """
    found = _LABEL.fullmatch(label)
    return f"{found[1]}-{found[2]}" if found else label


def file_in_address(file: str) -> str:
    """A path below a pack, with a sheet's label as addresses have it."""
    folder, slash, name = file.rpartition("/")
    stem, dot, kind = name.rpartition(".")
    return f"{folder}{slash}{in_address(stem)}{dot}{kind}" if folder == "sheets" else file
