"""Conversions between units of length; no other module converts.

Inside, lengths are floats in millimetres and angles are in degrees. Points are used only where
a page is drawn, pixels only where pictures are resampled.
"""

from __future__ import annotations

#: The international inch, exact since 1959 (ISO 31-1 annex; NIST SP 811 B.6).
MM_PER_INCH = 25.4
#: PDF default user space unit, 1/72 inch (ISO 32000-1, 8.3.2.3).
PT_PER_INCH = 72.0


def mm_to_pt(length_mm: float) -> float:
    """Millimetres to PDF points."""
    return length_mm * PT_PER_INCH / MM_PER_INCH


def pt_to_mm(length_pt: float) -> float:
    """PDF points to millimetres."""
    return length_pt * MM_PER_INCH / PT_PER_INCH


def inch_to_mm(length_in: float) -> float:
    """Inches to millimetres."""
    return length_in * MM_PER_INCH


def ppi(pixels: float, length_mm: float) -> float:
    """Pixels per inch of `pixels` spread over `length_mm`."""
    return pixels * MM_PER_INCH / length_mm


def pixels(length_mm: float, resolution_ppi: float) -> float:
    """How many pixels `length_mm` takes at `resolution_ppi` (not rounded)."""
    return length_mm * resolution_ppi / MM_PER_INCH
