"""The guide's section on laying the enlargement on the support and hinging it there.

A hard board without grit, a hinge at the top, and marks across it that show a slip are common
practice in studios.
"""

from __future__ import annotations

from worker.pages.pack_content import PackContent
from worker.pages.section import Section, section


def hinging(pack: PackContent) -> Section:
    """Board, place, hinge, and how a slip is seen."""
    words, support = pack.words, pack.spec.support
    size = pack.say.size(support.width_mm, support.height_mm)
    steps = (
        words("guide.hinge.board"),
        words("guide.hinge.measure", size=size),
        _place(pack),
        words("guide.hinge.flap"),
        words("guide.hinge.slip"),
    )
    notes = (words("guide.hinge.canvas"),) if support.medium == "paint" else ()
    return section(words("guide.section.hinge"), steps, *notes)


def _place(pack: PackContent) -> str:
    """Where on the support the enlargement is laid."""
    words, mirror = pack.words, pack.spec.print.mirror
    border_mm = pack.spec.support.border_mm
    if not border_mm:
        return words("guide.hinge.flush-face-down" if mirror else "guide.hinge.flush")
    border = pack.say.length(border_mm)
    return words("guide.hinge.border-face-down" if mirror else "guide.hinge.border", border=border)
