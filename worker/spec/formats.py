"""Known sheet formats and supports, each with the source of its size.

Sheet formats carry PWG 5101.1 self-describing names; their size is read from the name,
so that name and size cannot disagree. Supports are sold by nominal size and seldom
measure it (ISO 216 alone allows 2 mm on 600), so any measured size is welcome too.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from worker.errors import FormatUnknown
from worker.units import inch_to_mm

_PWG_SIZE = re.compile(r"_([0-9.]+)x([0-9.]+)(mm|in)$")
_ISO_216 = "ISO 216"
_TRADE = "common practice"
#: Halves of a series are rounded down to whole millimetres (ISO 216).
_FOLD_MM = 1.5


@dataclass(frozen=True, kw_only=True)
class SheetFormat:
    """What a printer takes, upright."""

    name: str
    title: str
    width_mm: float
    height_mm: float
    source: str

    @property
    def inches(self) -> bool:
        """Whether people who use this sheet measure in inches."""
        return self.name.startswith("na_")


@dataclass(frozen=True, kw_only=True)
class SupportSize:
    """A paper or board as the trade names it, upright."""

    name: str
    title: str
    width_mm: float
    height_mm: float
    source: str


def size_of_pwg_name(name: str) -> tuple[float, float]:
    """Width and height in mm that a PWG 5101.1 self-describing name states.

    Raises:
        FormatUnknown: The name states no size.
    """
    found = _PWG_SIZE.search(name)
    if found is None:
        message = f"'{name}' is no sheet format name: it ends in no size such as _210x297mm."
        raise FormatUnknown(message, field="sheet.format")
    width, height = float(found[1]), float(found[2])
    if found[3] == "in":
        return inch_to_mm(width), inch_to_mm(height)
    return width, height


def _sheet(name: str, title: str, source: str) -> SheetFormat:
    width_mm, height_mm = size_of_pwg_name(name)
    return SheetFormat(
        name=name, title=title, width_mm=width_mm, height_mm=height_mm, source=source
    )


#: By PWG 5101.1 name.
SHEET_FORMATS: dict[str, SheetFormat] = {
    sheet.name: sheet
    for sheet in (
        _sheet("iso_a5_148x210mm", "A5", _ISO_216),
        _sheet("iso_a4_210x297mm", "A4", _ISO_216),
        _sheet("iso_a3_297x420mm", "A3", _ISO_216),
        _sheet("iso_a2_420x594mm", "A2", _ISO_216),
        _sheet("iso_b4_250x353mm", "B4", _ISO_216),
        _sheet("jis_b5_182x257mm", "JIS B5", "JIS P 0138"),
        _sheet("jis_b4_257x364mm", "JIS B4", "JIS P 0138"),
        _sheet("na_letter_8.5x11in", "Letter", "ANSI/ASME Y14.1 (A)"),
        _sheet("na_legal_8.5x14in", "Legal", "PWG 5101.1"),
        _sheet("na_ledger_11x17in", "Ledger (Tabloid)", "ANSI/ASME Y14.1 (B)"),
        _sheet("na_super-b_13x19in", "Super B (A3+)", "PWG 5101.1"),
    )
}


def sheet_format(name: str) -> SheetFormat:
    """The format of this PWG name.

    Raises:
        FormatUnknown: Not one of SHEET_FORMATS.
    """
    found = SHEET_FORMATS.get(name)
    if found is None:
        known = ", ".join(SHEET_FORMATS)
        message = f"No sheet format is called '{name}'. Known are: {known}."
        raise FormatUnknown(message, field="sheet.format")
    return found


def doubled_format(smaller: SheetFormat) -> SheetFormat | None:
    """The format that two sheets make side by side (A3 of A4, Ledger of Letter); None: none."""
    for larger in SHEET_FORMATS.values():
        wide = abs(larger.width_mm - smaller.height_mm) <= _FOLD_MM
        if wide and abs(larger.height_mm - 2 * smaller.width_mm) <= _FOLD_MM:
            return larger
    return None


def _support(name: str, title: str, width_mm: float, height_mm: float, source: str) -> SupportSize:
    return SupportSize(
        name=name, title=title, width_mm=width_mm, height_mm=height_mm, source=source
    )


def _in_cm(width_cm: float, height_cm: float) -> SupportSize:
    name = f"{width_cm:g}x{height_cm:g}cm"
    title = f"{width_cm:g} × {height_cm:g} cm"
    return _support(name, title, width_cm * 10, height_cm * 10, _TRADE)


def _in_inches(width_in: float, height_in: float, extra: str = "") -> SupportSize:
    name = f"{width_in:g}x{height_in:g}in"
    title = f"{width_in:g} × {height_in:g} in{extra}"
    return _support(name, title, inch_to_mm(width_in), inch_to_mm(height_in), _TRADE)


SUPPORTS: tuple[SupportSize, ...] = (
    _support("a5", "A5", 148, 210, _ISO_216),
    _support("a4", "A4", 210, 297, _ISO_216),
    _support("a3", "A3", 297, 420, _ISO_216),
    _support("a2", "A2", 420, 594, _ISO_216),
    _support("a1", "A1", 594, 841, _ISO_216),
    _support("a0", "A0", 841, 1189, _ISO_216),
    _support("b3", "B3", 353, 500, _ISO_216),
    _support("b2", "B2", 500, 707, _ISO_216),
    _support("b1", "B1", 707, 1000, _ISO_216),
    _in_cm(18, 24),
    _in_cm(24, 30),
    _in_cm(24, 32),
    _in_cm(30, 40),
    _in_cm(40, 50),
    _in_cm(40, 60),
    _in_cm(50, 65),
    _in_cm(50, 70),
    _in_cm(60, 80),
    _in_cm(70, 100),
    _in_inches(8, 10),
    _in_inches(9, 12),
    _in_inches(11, 14),
    _in_inches(12, 16),
    _in_inches(14, 17),
    _in_inches(16, 20),
    _in_inches(18, 24),
    _in_inches(22, 30, " (imperial)"),
)
