"""The guide's sections for a mirrored pack, which is laid face down on the support.

Its lines cannot be seen while they are transferred, so nothing is traced; what transfers is
drawn on the printed side beforehand. Both are common practice in studios.
"""

from __future__ import annotations

from worker.pages.guide.sections.trace import TRACED
from worker.pages.pack_content import PackContent
from worker.pages.section import Section, section


def preparing(pack: PackContent) -> Section:
    """What the pack is for, and how its lines come to let go."""
    words, style = pack.words, TRACED[pack.spec.tone.style]
    which = "lines" if style == "mixed" else style
    steps = (
        words(f"guide.prepare.{which}"),
        words(f"guide.prepare.with-{pack.spec.support.tone}"),
    )
    mirrored, maker = words("guide.prepare.mirrored"), words("guide.prepare.maker")
    return section(words("guide.section.prepare"), steps, maker, before=(mirrored,))


def rubbing(pack: PackContent) -> Section:
    """How the lines come off on the support."""
    words, last = pack.words, pack.plan.rows
    if len(pack.plan.passes) > 1:
        order, look = words("guide.rub.rows", last=last), words("guide.trace.look")
    else:
        order, look = words("guide.rub.row"), words("guide.trace.look-one")
    steps = (words("guide.rub.back"), order, look, words("guide.trace.end"))
    return section(words("guide.section.rub"), steps)
