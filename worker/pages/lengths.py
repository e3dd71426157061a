"""How lengths are written: millimetres, with inches beside them where people use inches."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from worker.spec.formats import SHEET_FORMATS
from worker.spec.sheet_labels import read_label
from worker.units import MM_PER_INCH

#: The finest parts of an inch on a ruler (common practice).
_RULER_PARTS = 32
#: What roman numbers are added up from, greatest first.
_ROMAN = (
    (100, "C"),
    (90, "XC"),
    (50, "L"),
    (40, "XL"),
    (10, "X"),
    (9, "IX"),
    (5, "V"),
    (4, "IV"),
    (1, "I"),
)


@dataclass(frozen=True)
class Measures:
    """The lengths of one pack in words."""

    inches: bool

    def length(self, length_mm: float) -> str:
        """A length to measure, to a tenth of a millimetre."""
        millimetres = f"{length_mm:.1f} mm"
        return f"{millimetres} ({self._inch(length_mm)} in)" if self.inches else millimetres

    def setting(self, length_mm: float) -> str:
        """A length to set a cutter to, without its unit."""
        figure = f"{length_mm:.1f}"
        return f"{figure} ({self._inch(length_mm)}\u2033)" if self.inches else figure

    def size(self, width_mm: float, height_mm: float) -> str:
        """Width and height of a thing."""
        figures = f"{_short(width_mm)} × {_short(height_mm)} mm"
        if not self.inches:
            return figures
        return f"{figures} ({self._inch(width_mm)} × {self._inch(height_mm)} in)"

    def about(self, length_mm: float) -> str:
        """A length that need not be measured."""
        if self.inches:
            return f"{_short(length_mm)} mm ({length_mm / MM_PER_INCH:.1f} in)"
        return f"{_short(length_mm)} mm"

    def line(self, length_mm: float) -> str:
        """A length of line, which nobody measures."""
        if self.inches:
            return f"{length_mm / MM_PER_INCH:.0f} in"
        return f"{length_mm / 10:.0f} cm"

    def ruled(self, length_mm: float) -> str:
        """A place to find on a ruler, without its unit: tenths of a mm, or 32nds of an inch."""
        return _fraction(length_mm) if self.inches else f"{length_mm:.1f}"

    def _inch(self, length_mm: float) -> str:
        return f"{length_mm / MM_PER_INCH:.2f}".rstrip("0").rstrip(".")


def _short(length_mm: float) -> str:
    return f"{length_mm:.1f}".removesuffix(".0")


def _fraction(length_mm: float) -> str:
    """Inches with a fraction that a ruler has; a 32nd is half of what a pencil line wavers."""
    whole, parts = divmod(round(length_mm / MM_PER_INCH * _RULER_PARTS), _RULER_PARTS)
    if parts == 0:
        return f"{whole}\u2033"
    shared = math.gcd(parts, _RULER_PARTS)
    fraction = f"{parts // shared}/{_RULER_PARTS // shared}\u2033"
    return f"{whole} {fraction}" if whole else fraction


def measures_for(format_name: str) -> Measures:
    """Inches beside millimetres for the North American formats of PWG 5101.1."""
    return Measures(inches=format_name.startswith("na_"))


def format_title(format_name: str) -> str:
    """What people call a sheet format; its own name where none is known."""
    known = SHEET_FORMATS.get(format_name)
    return known.title if known else format_name


def label_list(labels: Iterable[str], *, most: int = 1000) -> str:
    """Labels with neighbours drawn together: `1·1 to 1·4, 2·2`; past `most` parts, an ellipsis."""
    listed = list(labels)
    parts = []
    places = enumerate(listed)
    for _, group in groupby(places, key=lambda pair: _place(pair[1], pair[0])):
        run = [label for _, label in group]
        parts.append(label_range(run[0], run[-1]) if len(run) > 2 else ", ".join(run))  # noqa: PLR2004 - a range of two would say no more than a comma.
    return ", ".join(parts if len(parts) <= most else [*parts[:most], "…"])


def label_range(first: str, last: str) -> str:
    """All labels from one to another, in words: a dash between figures would be read as one."""
    return f"{first} to {last}"


def _place(label: str, index: int) -> tuple[int, int]:
    """The row, and what is alike for labels whose places in it run on."""
    row, column = read_label(label)
    return row, column - index


def counted(number: int, noun: str) -> str:
    """A number of things, one or several."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def stack_name(number: int) -> str:
    """The roman number of a trim stack, counted from 0: plain figures number the passes."""
    left, name = number + 1, ""
    for value, letters in _ROMAN:
        name += letters * (left // value)
        left %= value
    return name
