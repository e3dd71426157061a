"""The guide's sections for a picture that goes on a wall: strips, pounced one after the other.

Level and plumb line, a pricked cartoon with a bag of powder, working from the top down, and a
grid instead of a cartoon are common practice in mural painting.
"""

from __future__ import annotations

from worker.pages.guide.sections.trace import TRACED
from worker.pages.pack_content import PackContent
from worker.pages.section import Section, section
from worker.spec.plan import Rect

#: More lines than this are not listed: each strip has its own height at hand.
_MOST_LINES = 24


def setting_out(pack: PackContent) -> Section:
    """The rectangle, and a line for each strip."""
    words, say, picture = pack.words, pack.say, pack.plan.picture
    diagonal = next(one for one in pack.plan.check_lengths if one.name == "diagonal")
    size = say.size(picture.width_mm, picture.height_mm)
    steps = (
        words("guide.wall.corner"),
        words("guide.wall.rectangle", size=size, diagonal=say.length(diagonal.length_mm)),
        *_lines(pack),
    )
    return section(words("guide.section.set-out"), steps)


def _lines(pack: PackContent) -> tuple[str, ...]:
    """Where the strips' lower edges lie, or the left edges of columns; none for a single strip."""
    words, say, down = pack.words, pack.say, pack.plan.run_through == "down"
    places: dict[int, float] = {}
    for piece in pack.plan.pieces:
        places[piece.column if down else piece.row] = _place(pack, piece.picture_rect_mm)
    inner = {line + 1: place for line, place in sorted(places.items()) if place > 0}
    if not inner or len(inner) > _MOST_LINES:
        return ()
    if down:
        listed = [
            words("guide.wall.column-at", number=number, length=say.setting(place))
            for number, place in inner.items()
        ]
        return (words("guide.wall.columns", places=", ".join(listed)),)
    listed = [
        words("guide.wall.row-at", number=number, length=say.setting(place))
        for number, place in reversed(inner.items())
    ]
    return (words("guide.wall.rows", places=", ".join(listed)),)


def _place(pack: PackContent, rect: Rect) -> float:
    """Where a piece's lower edge lies on the wall, or the left edge of one in a column."""
    picture = pack.plan.picture
    if pack.plan.run_through != "down":
        return picture.height_mm - rect.bottom
    # With its face to the wall the picture's right is at the left.
    return picture.width_mm - rect.right if pack.spec.print.mirror else rect.left


def pricking(pack: PackContent) -> Section:
    """Holes along the lines."""
    words, style = pack.words, TRACED[pack.spec.tone.style]
    which = "lines" if style == "mixed" else style
    steps = (
        words("guide.wall.felt"),
        words(f"guide.wall.prick-{which}"),
        words("guide.wall.open"),
    )
    return section(words("guide.section.prick"), steps)


def pouncing(pack: PackContent) -> Section:
    """Strip after strip, from the top down or from the left."""
    words, tone = pack.words, pack.spec.support.tone
    steps = (
        _hang(pack),
        words(f"guide.wall.powder-{tone}"),
        words("guide.wall.look"),
        words("guide.wall.dots-dark" if tone == "dark" else "guide.wall.dots"),
    )
    return section(words("guide.section.pounce"), steps, _by_grid(pack))


def _hang(pack: PackContent) -> str:
    way = "columns" if pack.plan.run_through == "down" else "rows"
    if pack.spec.print.mirror:
        return pack.words(f"guide.wall.hang-{way}-face-down")
    return pack.words(f"guide.wall.hang-{way}")


def _by_grid(pack: PackContent) -> str:
    if pack.spec.grid is None:
        return pack.words("guide.wall.no-grid")
    first = pack.plan.first_grid_page
    return pack.words("guide.wall.grid", first=first, second=first + 1)
