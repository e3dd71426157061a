"""Sizes as people write them: `60x40cm`, `22 1/2 x 30 in`, `59,4 × 42 cm`, `594x420mm`.

A number without a unit is refused: 60 is a sketchbook page in centimetres and a wall in
inches, and a wrong guess shows only when the paper is cut. One unit at the end counts for
both numbers; each number may also have its own.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace

from worker.errors import SizeUnreadable
from worker.units import MM_PER_INCH

#: Longer texts are refused, which bounds the work of the regular expressions.
MAX_CHARACTERS = 60
#: International foot of 12 inches (NIST SP 811, B.6).
_FOOT_MM = 12 * MM_PER_INCH
#: Millimetres by unit as written; keyboards turn " into a double prime or a closing quote.
UNITS_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "″": MM_PER_INCH,
    "”": MM_PER_INCH,
    "ft": _FOOT_MM,
    "foot": _FOOT_MM,
    "feet": _FOOT_MM,
}
_UNIT = "|".join(re.escape(unit) for unit in sorted(UNITS_MM, key=len, reverse=True))
_NUMBER = r"\d+[ -]+\d+/\d+|\d+/\d+|\d+[.,]\d+|\d+"
_LENGTH = rf"({_NUMBER})\s*({_UNIT})?"
_ONE = re.compile(_LENGTH)
_TWO = re.compile(rf"{_LENGTH}\s*(?:x|×|\*|by)\s*{_LENGTH}")
_TURN = re.compile(r"(.*?)\s*\b(landscape|portrait)")
_THOUSANDS = re.compile(r"\d,\d{3}$")
_EXAMPLES = "Write for example 60x40cm, 594x420mm, 22x30in or a3."


@dataclass(frozen=True, kw_only=True)
class Size:
    """Width and height in millimetres, as written: width first."""

    width_mm: float
    height_mm: float

    def landscape(self) -> Size:
        """The same, no taller than wide."""
        return self if self.width_mm >= self.height_mm else self._turned()

    def portrait(self) -> Size:
        """The same, no wider than tall."""
        return self if self.height_mm >= self.width_mm else self._turned()

    def _turned(self) -> Size:
        return replace(self, width_mm=self.height_mm, height_mm=self.width_mm)


def tidy(text: str) -> str:
    """Lower case, single spaces, and vulgar fractions written out (½ as 1/2).

    Raises:
        SizeUnreadable: When the text is too long for a size.
    """
    if len(text) > MAX_CHARACTERS:
        raise SizeUnreadable(f"That is too long for a size. {_EXAMPLES}")
    return " ".join("".join(_written_out(character) for character in text).lower().split())


def _written_out(character: str) -> str:
    if not unicodedata.decomposition(character).startswith("<fraction>"):
        return character
    return " " + unicodedata.normalize("NFKC", character).replace("\N{FRACTION SLASH}", "/")


def orientation(text: str) -> tuple[str, str | None]:
    """A tidy text without a last word `landscape` or `portrait`, and that word or None."""
    found = _TURN.fullmatch(text)
    return (found[1], found[2]) if found else (text, None)


def turned(size: Size, word: str | None) -> Size:
    """The size as `landscape` or `portrait`; None leaves it as it is."""
    if word is None:
        return size
    return size.landscape() if word == "landscape" else size.portrait()


def read_size(text: str) -> Size:
    """A width and a height with units, and perhaps `landscape` or `portrait` after them.

    Raises:
        SizeUnreadable: With what is missing.
    """
    plain, word = orientation(tidy(text))
    found = _TWO.fullmatch(plain)
    if found is None:
        raise SizeUnreadable(f"'{text}' is no size. {_EXAMPLES}")
    width_unit, height_unit = found[2] or found[4], found[4] or found[2]
    if width_unit is None:
        message = f"'{text}' has no unit: write {found[1]}x{found[3]}cm, or mm, or in."
        raise SizeUnreadable(message)
    size = Size(
        width_mm=_positive(found[1], width_unit, text),
        height_mm=_positive(found[3], height_unit, text),
    )
    return turned(size, word)


def read_length(text: str) -> float:
    """A length with its unit, 0 allowed, in millimetres.

    Raises:
        SizeUnreadable: With what is missing.
    """
    found = _ONE.fullmatch(tidy(text).strip())
    if found is None:
        raise SizeUnreadable(f"'{text}' is no length. Write for example 8mm or 1.5cm.")
    if found[2] is None and _value(found[1], text) != 0:
        raise SizeUnreadable(f"'{text}' has no unit: write {found[1]}mm, or cm, or in.")
    return _value(found[1], text) * UNITS_MM[found[2] or "mm"]


def _positive(number: str, unit: str, text: str) -> float:
    length_mm = _value(number, text) * UNITS_MM[unit]
    if length_mm <= 0:
        raise SizeUnreadable(f"'{text}' has a side of nothing. {_EXAMPLES}")
    return length_mm


def _value(number: str, text: str) -> float:
    if _THOUSANDS.search(number):
        message = f"The comma in '{text}' may part thousands or decimals: write it without."
        raise SizeUnreadable(message)
    *whole, last = re.split(r"[ -]+", number)
    over, _, under = last.partition("/")
    if not under:
        return float(last.replace(",", "."))
    if int(under) == 0:
        raise SizeUnreadable(f"'{text}' divides by nothing. {_EXAMPLES}")
    return int(over) / int(under) + (int(whole[0]) if whole else 0)


def write_size(width_mm: float, height_mm: float) -> str:
    """A size in centimetres, exact to a hundredth of a millimetre, without trailing zeros."""
    return f"{_short(width_mm / 10)} × {_short(height_mm / 10)} cm"


def _short(number: float) -> str:
    return f"{number:.3f}".rstrip("0").rstrip(".")
