"""The guide's section on the first steps after the transfer, by the medium.

What graphite does under pale colours, the kneaded eraser, thinned paint over transferred lines
and the order of tones are common practice in studios.
"""

from __future__ import annotations

from worker.pages.pack_content import PackContent
from worker.pages.section import Section, section


def beginning(pack: PackContent) -> Section | None:
    """What is done with the lines, and with the tones of a picture in values; None: nothing."""
    # On a wall the lines are drawn from the dots, and nothing of the transfer is left.
    lines = () if pack.plan.on_wall else (_lines(pack),)
    tones = _tones(pack) if pack.spec.tone.style == "values" else ()
    if not lines and not tones:
        return None
    return section(pack.words("guide.section.begin"), (*lines, *tones))


def _lines(pack: PackContent) -> str:
    """Chalk is dusted off; graphite is lifted, since it greys what is pale."""
    words, support = pack.words, pack.spec.support
    if support.tone != "dark":
        return words(f"guide.begin.lines-{support.medium}")
    return words(
        "guide.begin.lines-paint-dark" if support.medium == "paint" else "guide.begin.dust"
    )


def _tones(pack: PackContent) -> tuple[str, ...]:
    """How a picture in values goes on from the borders of its tones."""
    words, count = pack.words, pack.spec.tone.values.count
    # On the sheets the lightest tone is bare paper, on a darker support it has to be laid.
    bare = pack.spec.support.tone == "light"
    lay = words("guide.begin.tones" if bare else "guide.begin.tones-all", count=count)
    # The map has the key of the tones; where there is none, the sheet's head strip.
    page = 1 if pack.plan.map_pages else pack.plan.first_sheet_page
    return (words("guide.begin.number", page=page), lay)
