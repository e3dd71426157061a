"""How lengths are written: millimetres, with inches beside them where people use inches."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from worker.spec.formats import SHEET_FORMATS
from worker.spec.sheet_labels import read_label
from worker.units import MM_PER_INCH
from worker.words.catalogue import Words, words_for
from worker.words.languages import DEFAULT

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
    """The lengths of one pack as its language writes them."""

    inches: bool
    words: Words

    def length(self, length_mm: float) -> str:
        """A length to measure, to a tenth of a millimetre."""
        millimetres = self.words.measure(length_mm, "mm", 1, least=1)
        return f"{millimetres} ({self._inches(length_mm)})" if self.inches else millimetres

    def setting(self, length_mm: float) -> str:
        """A length to set a cutter to, without its unit."""
        figure = self.words.number(length_mm, 1)
        return f"{figure} ({self._inch(length_mm)}\u2033)" if self.inches else figure

    def size(self, width_mm: float, height_mm: float) -> str:
        """Width and height of a thing."""
        width, height = self.words.number(width_mm, 1, least=0), self._short(height_mm)
        if not self.inches:
            return f"{width} × {height}"
        return f"{width} × {height} ({self._inch(width_mm)} × {self._inches(height_mm)})"

    def figures(self, width_mm: float, height_mm: float) -> str:
        """Width and height in millimetres, without their unit."""
        width, height = (self.words.number(side, 2, least=0) for side in (width_mm, height_mm))
        return f"{width} × {height}"

    def inches_of(self, width_mm: float, height_mm: float) -> str:
        """Width and height in inches, to a hundredth."""
        width, height = width_mm / MM_PER_INCH, height_mm / MM_PER_INCH
        written = self.words.measure(height, "in", 2, least=2)
        return f"{self.words.number(width, 2)} × {written}"

    def ruled(self, length_mm: float) -> str:
        """A place to find on a ruler, without its unit: tenths of a mm, or 32nds of an inch."""
        return _fraction(length_mm) if self.inches else self.words.number(length_mm, 1)

    def _short(self, length_mm: float) -> str:
        return self.words.measure(length_mm, "mm", 1)

    def _inch(self, length_mm: float) -> str:
        return self.words.number(length_mm / MM_PER_INCH, 2, least=0)

    def _inches(self, length_mm: float) -> str:
        return self.words.measure(length_mm / MM_PER_INCH, "in", 2)


def _fraction(length_mm: float) -> str:
    """Inches with a fraction that a ruler has; a 32nd is half of what a pencil line wavers."""
    whole, parts = divmod(round(length_mm / MM_PER_INCH * _RULER_PARTS), _RULER_PARTS)
    if parts == 0:
        return f"{whole}\u2033"
    shared = math.gcd(parts, _RULER_PARTS)
    fraction = f"{parts // shared}/{_RULER_PARTS // shared}\u2033"
    return f"{whole} {fraction}" if whole else fraction


def measures_for(format_name: str, language: str = DEFAULT) -> Measures:
    """Inches beside millimetres for the North American formats of PWG 5101.1."""
    return Measures(inches=format_name.startswith("na_"), words=words_for(language))


def format_title(format_name: str) -> str:
    """What people call a sheet format; its own name where none is known."""
    known = SHEET_FORMATS.get(format_name)
    return known.title if known else format_name


def label_list(words: Words, labels: Iterable[str], *, most: int = 1000) -> str:
    """Labels with neighbours drawn together: `1·1 to 1·4, 2·2`; past `most` parts, an ellipsis."""
    listed = list(labels)
    parts = []
    places = enumerate(listed)
    for _, group in groupby(places, key=lambda pair: _place(pair[1], pair[0])):
        run = [label for _, label in group]
        parts.append(label_range(words, run) if len(run) > 2 else ", ".join(run))  # noqa: PLR2004 - a range of two would say no more than a comma.
    return ", ".join(parts if len(parts) <= most else [*parts[:most], "…"])


def label_range(words: Words, labels: Sequence[str]) -> str:
    """All labels from the first to the last, in words: figures with a dash look like sums."""
    return words("labels.range", first=labels[0], last=labels[-1])


def _place(label: str, index: int) -> tuple[int, int]:
    """The row, and what is alike for labels whose places in it run on."""
    row, column = read_label(label)
    return row, column - index


def stack_name(number: int) -> str:
    """The roman number of a trim stack, counted from 0: plain figures number the passes."""
    left, name = number + 1, ""
    for value, letters in _ROMAN:
        name += letters * (left // value)
        left %= value
    return name
