"""The guide's section on what the joined sheets must measure.

What a length that is off comes from is common practice in studios.
"""

from __future__ import annotations

from worker.pages.pack_content import PackContent
from worker.pages.section import Section, section
from worker.spec.plan import CheckLength


def checking(pack: PackContent) -> Section:
    """The lengths to measure, and what to do where one is off."""
    words = pack.words
    lengths = {check.name: check for check in pack.plan.check_lengths if check.scope == "joined"}
    steps = _strips(pack, lengths) if pack.plan.on_wall else _whole(pack, lengths)
    seam = words("guide.check.seam", number=pack.text.number)
    return section(words("guide.section.check"), steps, words("guide.check.alike"), seam)


def _whole(pack: PackContent, lengths: dict[str, CheckLength]) -> tuple[str, ...]:
    """Both sides of the enlargement and its diagonals."""
    words = pack.words
    width, width_off = _figures(pack, lengths["width"])
    height, height_off = _figures(pack, lengths["height"])
    diagonal, diagonal_off = _figures(pack, lengths["diagonal"])
    return (
        words("guide.check.width", length=width, tolerance=width_off),
        words("guide.check.height", length=height, tolerance=height_off),
        words("guide.check.diagonals", length=diagonal, tolerance=diagonal_off),
    )


def _strips(pack: PackContent, lengths: dict[str, CheckLength]) -> tuple[str, ...]:
    """Strips are measured each; the wall's rectangle is, where it is set out."""
    down = pack.plan.run_through == "down"
    length, off = _figures(pack, lengths["height" if down else "width"])
    says = pack.words(
        "guide.check.strip-columns" if down else "guide.check.strip-rows",
        length=length,
        tolerance=off,
    )
    return (says,)


def _figures(pack: PackContent, check: CheckLength) -> tuple[str, str]:
    """A length, and what it may be off."""
    say = pack.say
    return say.length(check.length_mm), say.length(check.tolerance_mm)
