"""What a guide is made of: sections of steps. Two stars set a phrase in bold."""

from __future__ import annotations

import re
from dataclasses import dataclass

_FIGURE = re.compile(r"([0-9]) (mm|in|%|bits?|sheets?)\b")


@dataclass(frozen=True)
class Step:
    """One paragraph; `ticked` ones are done and ticked off, the others heeded."""

    text: str
    ticked: bool = True


@dataclass(frozen=True)
class Section:
    """A heading and its steps."""

    title: str
    steps: tuple[Step, ...]


def section(title: str, steps: tuple[str, ...], *heeded: str) -> Section:
    """A section whose last paragraphs are heeded rather than ticked off."""
    done = tuple(Step(_bound(text)) for text in steps)
    return Section(title, done + tuple(Step(_bound(text), ticked=False) for text in heeded))


def _bound(text: str) -> str:
    """Figures do not part from their unit at the end of a line."""
    return _FIGURE.sub("\\1\u00a0\\2", text)
