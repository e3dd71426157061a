"""The guide's section on joining: edge to edge with tape, or lapped with glue.

Tacking on the face before taping the back, glue in a lap, a straight edge under a row, pairs
before rows and the size of the tape are common practice in studios.
"""

from __future__ import annotations

from collections import Counter

from worker.pages.lengths import label_list
from worker.pages.pack_content import PackContent
from worker.pages.section import Section, section

#: A path of more sheets than this is shortened.
_MOST_NAMED = 4


def joining(pack: PackContent) -> Section:
    """How neighbours meet, what holds them, and in which order."""
    words = pack.words
    lapped, wall = pack.spec.seams.joint == "lap", pack.plan.on_wall
    if lapped:
        steps = (words("guide.join.lap"), *_marks(pack), words("guide.join.glue"), _order(pack))
        last = () if wall else (words("guide.join.dry"),)
    else:
        tack = words("guide.join.tack" if pack.plan.tape_spots else "guide.join.tack-by-eye")
        steps = (words("guide.join.edge-to-edge"), *_marks(pack), tack, _order(pack))
        last = (words("guide.join.back-strip" if wall else "guide.join.back"),)
    # What lies face down must be smooth there, and tape over lines is hard to prick.
    matt = not lapped and not wall and not pack.spec.print.mirror
    extras = (words("guide.join.matt"),) if matt else ()
    return section(words("guide.section.join"), (*_turned(pack), *steps, *last), extras=extras)


def _turned(pack: PackContent) -> tuple[str, ...]:
    """Which sheets come out of the printer on their side."""
    turned = [piece.label for piece in pack.plan.pieces if piece.turned_deg]
    if not turned:
        return ()
    if len(turned) == pack.plan.sheet_count:
        return (pack.words("guide.join.turned-all"),)
    labels = label_list(pack.words, turned, most=_MOST_NAMED)
    return (pack.words("guide.join.turned", labels=labels),)


def _marks(pack: PackContent) -> tuple[str, ...]:
    """How register marks are read, where the sheets have any."""
    marked = any(seam.register_marks_mm for seam in pack.plan.seams)
    return (pack.words("guide.join.marks"),) if marked else ()


def _order(pack: PackContent) -> str:
    """Pairs before rows; columns where they run through and rows do not."""
    words, down = pack.words, pack.plan.run_through == "down"
    line_of = Counter(piece.column if down else piece.row for piece in pack.plan.pieces)
    if len(line_of) == 1 or max(line_of.values()) == 1:
        path = _path([piece.label for piece in pack.plan.pieces])
        upright = pack.plan.rows > 1
        return words("guide.join.column" if upright else "guide.join.row", path=path)
    first = [
        piece.label for piece in pack.plan.pieces if (piece.column if down else piece.row) == 0
    ]
    way = "columns" if down else "rows"
    if pack.plan.on_wall:
        return words(f"guide.join.strip-{way}", path=_path(first))
    if pack.spec.seams.joint == "lap":
        return words(f"guide.join.lap-{way}", path=_path(first))
    return words("guide.join.columns" if down else "guide.join.rows", path=_path(first))


def _path(labels: list[str]) -> str:
    if len(labels) > _MOST_NAMED:
        labels = [labels[0], labels[1], "…", labels[-1]]
    return " – ".join(labels)
