"""The text of guide pages: sections of steps. Two stars before and after set a phrase in bold."""

from __future__ import annotations

import re
from dataclasses import dataclass

_FIGURE = re.compile(r"([0-9]) (mm|in|%|bits?|sheets?)\b")


@dataclass(frozen=True)
class Step:
    """One paragraph; `ticked`: something to do, with a box to tick; else a note."""

    text: str
    ticked: bool = True


@dataclass(frozen=True)
class Section:
    """A heading and its steps."""

    title: str
    steps: tuple[Step, ...]


def section(
    title: str, steps: tuple[str, ...], *notes: str, before: tuple[str, ...] = ()
) -> Section:
    """A section of steps to tick, and notes after or before them."""
    done = tuple(Step(_bound(text)) for text in steps)
    return Section(title, (*_notes(before), *done, *_notes(notes)))


def _notes(texts: tuple[str, ...]) -> tuple[Step, ...]:
    return tuple(Step(_bound(text), ticked=False) for text in texts)


def _bound(text: str) -> str:
    """The text with no-break spaces between figures and their units."""
    return _FIGURE.sub("\\1\u00a0\\2", text)
