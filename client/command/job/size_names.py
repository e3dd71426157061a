"""Names of sheets and supports: `a4`, `letter`, `iso_a3_297x420mm`, `imperial`.

A sheet has a known format, because the print job names it; a support may have any size, so
its name is only a short way to write one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from client.command.job.sizes import Size, orientation, read_size, tidy, turned
from worker.errors import FormatUnknown, SizeUnreadable
from worker.spec.formats import SHEET_FORMATS, SUPPORTS, SheetFormat, SupportSize

#: A sheet written in whole mm may differ from its format by the rounding.
_TOLERANCE_MM = 0.5
_PWG = re.compile(r"(?:iso|na|jis)_([^_]+)_.*")


def read_support(text: str) -> Size:
    """The size of a support: its name, or any width and height with units.

    Raises:
        SizeUnreadable: Neither.
    """
    plain, word = orientation(tidy(text))
    named: tuple[SupportSize | SheetFormat, ...] = (*SUPPORTS, *SHEET_FORMATS.values())
    for known in named:
        if plain in _names(known):
            return turned(Size(width_mm=known.width_mm, height_mm=known.height_mm), word)
    if plain[:1].isalpha():
        raise SizeUnreadable(
            f"No support is called '{text}'. Known names are "
            f"{', '.join(known.name for known in SUPPORTS if known.name[0].isalpha())}, imperial; "
            "or write its measured size, as in 60x40cm."
        )
    return read_size(text)


def read_sheet(text: str) -> str:
    """The PWG 5101.1 name of a sheet format, found by any of its names or by its size.

    Raises:
        FormatUnknown: No known format has this name or size.
    """
    plain, _ = orientation(tidy(text))
    for known in SHEET_FORMATS.values():
        if plain in _names(known) or _measures(known, plain):
            return known.name
    titles = ", ".join(known.title for known in SHEET_FORMATS.values())
    message = f"No sheet is called '{text}'. Known are: {titles}."
    raise FormatUnknown(message, field="sheet.format")


def _names(known: SheetFormat | SupportSize) -> set[str]:
    """Every usual spelling of this name, in lower case."""
    return {name.lower() for name in _spellings(known)}


def _spellings(known: SheetFormat | SupportSize) -> Iterator[str]:
    yield known.name
    yield known.title
    # "Ledger (Tabloid)" and "22 × 30 in (imperial)" have a second name in brackets.
    first, _, second = known.title.partition("(")
    yield first.strip()
    yield second.strip(") ") or known.name
    short = _PWG.fullmatch(known.name)
    if short and not known.name.startswith("jis_"):
        yield short[1]
        yield short[1].replace("-", " ")


def _measures(known: SheetFormat, plain: str) -> bool:
    try:
        size = read_size(plain).portrait()
    except SizeUnreadable:
        return False
    return (
        abs(size.width_mm - known.width_mm) <= _TOLERANCE_MM
        and abs(size.height_mm - known.height_mm) <= _TOLERANCE_MM
    )
