"""Colours, text styles and line weights of our pages.

Greys, one accent (the red of sanguine chalk), and three weights of line. On a grey page the
accent is drawn as its grey, so that the printer uses no colour ink.
"""

from __future__ import annotations

from dataclasses import dataclass

from worker.pdf.fonts import BOLD, DISPLAY, TEXT


@dataclass(frozen=True)
class Ink:
    """A colour, each part from 0 to 1."""

    red: float
    green: float
    blue: float

    @property
    def luma(self) -> float:
        """How light it looks, from 0 to 1 (ITU-R BT.601 weights, enough for line work)."""
        return 0.299 * self.red + 0.587 * self.green + 0.114 * self.blue


@dataclass(frozen=True, kw_only=True)
class TextStyle:
    """How text looks; `tracking_pt` spaces capitals out."""

    face: str
    size_pt: float
    ink: Ink
    tracking_pt: float = 0.0


PAPER = Ink(1, 1, 1)
#: What is measured to, cut along or read: a laser printer makes dots of any grey, which fray thin
#: lines and small letters.
BLACK = Ink(0, 0, 0)
#: Large letters only, and what lies below lines.
PENCIL = Ink(0.42, 0.41, 0.40)
FAINT = Ink(0.74, 0.73, 0.72)
#: #B5482A, sanguine.
SANGUINE = Ink(0.710, 0.282, 0.165)
WASH = Ink(0.937, 0.843, 0.800)

#: The smallest type for text that must be read (common practice; six points is the least in
#: print).
SMALLEST_PT = 7.0

#: The thinnest line: the finest pen of ISO 9175-1 that every printer draws whole.
HAIR_MM = 0.18
FINE_MM = 0.2
FIRM_MM = 0.4


def body(size_pt: float, ink: Ink = BLACK) -> TextStyle:
    """Running text."""
    return TextStyle(face=TEXT, size_pt=size_pt, ink=ink)


def strong(size_pt: float, ink: Ink = BLACK) -> TextStyle:
    """Figures and labels."""
    return TextStyle(face=BOLD, size_pt=size_pt, ink=ink)


def display(size_pt: float, ink: Ink = BLACK) -> TextStyle:
    """Titles and large figures."""
    return TextStyle(face=DISPLAY, size_pt=size_pt, ink=ink)


def kicker(size_pt: float, ink: Ink = SANGUINE) -> TextStyle:
    """Small spaced capitals over a group."""
    return TextStyle(face=BOLD, size_pt=size_pt, ink=ink, tracking_pt=size_pt * 0.14)
