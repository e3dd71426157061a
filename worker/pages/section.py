"""Sections of steps, as text on pages. Two stars before and after set a phrase in bold."""

from __future__ import annotations

import re
from dataclasses import dataclass

#: Before these spaces no line ends: `± 1`, `100 %`.
_FIGURE = re.compile(r"(?<=±) (?=[0-9])|(?<=[0-9]) (?=%)")


@dataclass(frozen=True)
class Step:
    """One paragraph.

    Attributes:
        text: What it says.
        ticked: Something to do, with a box to tick; else a note.
        extra: Another way that would do as well; left out where paper is small.
    """

    text: str
    ticked: bool = True
    extra: bool = False


@dataclass(frozen=True)
class Section:
    """A heading and its steps."""

    title: str
    steps: tuple[Step, ...]

    def without_extras(self) -> Section:
        """The section with what is needed only."""
        return Section(self.title, tuple(step for step in self.steps if not step.extra))


def section(
    title: str,
    steps: tuple[str, ...],
    *notes: str,
    before: tuple[str, ...] = (),
    extras: tuple[str, ...] = (),
) -> Section:
    """A section of steps to tick, notes after or before them, and other ways at the end."""
    return Section(
        title,
        (
            *(Step(_bound(text), ticked=False) for text in before),
            *(Step(_bound(text)) for text in steps),
            *(Step(_bound(text), ticked=False) for text in notes),
            *(Step(_bound(text), ticked=False, extra=True) for text in extras),
        ),
    )


def _bound(text: str) -> str:
    """The text with no-break spaces at figures; units have theirs from the catalogue."""
    return _FIGURE.sub("\u00a0", text)
