"""The guide's section on tracing.

A coloured ballpoint, strips from the free edge to the hinge, the hand on a bar and a look at the
first strip are common practice in studios.
"""

from __future__ import annotations

from worker.pages.pack_content import PackContent
from worker.pages.section import Section, section
from worker.spec.spec import ToneStyle

#: What of a style is traced: of a photograph what one sees, of lines and tones what is drawn.
TRACED: dict[ToneStyle, str] = {
    "grey": "photo",
    "colour": "photo",
    "outline": "lines",
    "mixed": "mixed",
    "values": "borders",
}


def tracing(pack: PackContent) -> Section:
    """With what, which lines, in which order, and when to look."""
    words, last = pack.words, pack.plan.rows
    if len(pack.plan.passes) > 1:
        order, look = words("guide.trace.rows", last=last), words("guide.trace.look")
    else:
        order, look = words("guide.trace.row"), words("guide.trace.look-one")
    steps = (
        words("guide.trace.pen"),
        words(f"guide.trace.what-{TRACED[pack.spec.tone.style]}"),
        order,
        words("guide.trace.hand"),
        look,
        words("guide.trace.end"),
    )
    return section(words("guide.section.trace"), steps)
