"""Parsers of option values, each with a plain message for a value that it cannot read."""

from __future__ import annotations

import math
from collections.abc import Callable

import click

from worker.errors import SizeUnreadable

#: Printers' margins in mm: top, right, bottom, left (common practice).
MARGINS = {"tight": (5.0, 5.0, 5.0, 5.0), "safe": (10.0, 10.0, 18.0, 10.0)}


def shares_parser(*names: str) -> Callable[[str], tuple[float, ...]]:
    """A parser of one number for each name, as shares (0.4) or in percent (40%)."""

    def parse(text: str) -> tuple[float, ...]:
        try:
            found = tuple(_share(word) for word in text.split(","))
        except ValueError:
            found = ()
        if len(found) != len(names):
            message = f"'{text}' is not {','.join(names)} as shares (0.4) or percent (40%)."
            raise click.BadParameter(message)
        return found

    return parse


#: For `--protect`: the faces that are found, in place of an area.
FACES = "faces"


def protect_parser(*names: str) -> Callable[[str], tuple[float, ...] | str]:
    """A parser of an area in shares, or of the word `faces`."""
    parse_area = shares_parser(*names)

    def parse(text: str) -> tuple[float, ...] | str:
        if text.strip().lower() == FACES:
            return FACES
        try:
            return parse_area(text)
        except click.BadParameter as error:
            raise click.BadParameter(f"{error.message} Or say {FACES}.") from None

    return parse


def parse_share_list(text: str) -> tuple[float, ...]:
    """Any number of shares (0.4) or percentages (40%), separated by commas."""
    try:
        return tuple(_share(word) for word in text.split(","))
    except ValueError:
        raise click.BadParameter(f"'{text}' is no list of shares, as 0.2,0.5,0.8.") from None


def parse_line_weight(text: str) -> float:
    """A line weight in mm, with or without its unit: no other unit makes sense for a line."""
    return parse_number(text.strip().lower().removesuffix("mm"))


def _share(word: str) -> float:
    text = word.strip()
    return _finite(text[:-1]) / 100 if text.endswith("%") else _finite(text)


def _finite(text: str) -> float:
    """A finite number; `nan` and `inf`, which Python reads too, are no JSON."""
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(text)
    return value


def parse_number(text: str) -> float:
    """A number.

    Raises:
        click.BadParameter: The text is none.
    """
    try:
        return _finite(text)
    except ValueError:
        raise click.BadParameter(f"'{text}' is no number.") from None


def parse_margins(text: str) -> tuple[float, ...]:
    """`tight`, `safe`, one length in mm for all, or four: top, right, bottom, left.

    Raises:
        SizeUnreadable: None of these.
    """
    if text.strip().lower() in MARGINS:
        return MARGINS[text.strip().lower()]
    words = [word.strip() for word in text.split(",")]
    try:
        margins = tuple(_finite(word.removesuffix("mm")) for word in words)
    except ValueError:
        margins = ()
    if len(margins) == 1:
        return margins * len(MARGINS["tight"])
    if len(margins) != len(MARGINS["tight"]):
        message = f"'{text}' is no set of margins: tight, safe, one mm figure, or four as 5,5,18,5."
        raise SizeUnreadable(message, field="sheet.margin_mm")
    return margins
