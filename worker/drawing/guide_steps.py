"""What a guide is made of: sections of steps. Two stars set a phrase in bold."""

from __future__ import annotations

from dataclasses import dataclass


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
    done = tuple(Step(text) for text in steps)
    return Section(title, done + tuple(Step(text, ticked=False) for text in heeded))
