"""Guide page 2: print, cut, join, tape and check, in the figures of one pack.

The order of work and the tape are common practice in studios.
"""

from __future__ import annotations

from itertools import groupby

from worker.pages.guide.cut import cutting
from worker.pages.guide.print import printing
from worker.pages.guide.sections import Section, section
from worker.pages.lengths import Measures, counted, label_list, measures_for
from worker.pages.pack_content import PackContent
from worker.spec.plan import CheckLength, Piece
from worker.spec.sheet_labels import read_label

#: More rows than this are summed up in a rule instead of listed.
_MOST_ROWS = 5


def first_page(pack: PackContent) -> tuple[Section, ...]:
    """From the printer to one sheet of paper."""
    sections = [printing(pack), cutting(pack)]
    if pack.plan.sheet_count > 1:
        sections += [section("Join", _join(pack)), section("Tape", _tape(pack))]
    return (*sections, section("Check", _check(pack)))


def _join(pack: PackContent) -> tuple[str, ...]:
    plan, spec = pack.plan, pack.spec
    if spec.seams.joint == "lap":
        how = (
            "Lay the sheets face up on a table or the floor. Each slides **under** its right and "
            "its lower neighbour until that neighbour’s edge lies on the dashed line and the "
            "picture runs on."
        )
    else:
        how = (
            "Lay the sheets face up on a table or the floor, edge to edge, so that the picture "
            "runs on across each seam. Nothing overlaps, nothing gapes."
        )
    if any(piece.turned_deg for piece in plan.pieces):
        turned = [piece.label for piece in plan.pieces if piece.turned_deg]
        which = (
            "All sheets"
            if len(turned) == plan.sheet_count
            else f"Sheets {label_list(pack.words, turned)}"
        )
        how += f" {which} were printed on their side: give them a quarter turn to the left."
    return (how, *_lines(pack))


def _lines(pack: PackContent) -> tuple[str, ...]:
    """Row by row, or column by column where the columns run through."""
    down = pack.plan.run_through == "down"
    name = "Column" if down else "Row"

    def line_of(piece: Piece) -> int:
        return piece.column if down else piece.row

    pieces = sorted(pack.plan.pieces, key=lambda piece: (line_of(piece), piece.row, piece.column))
    lines = [[piece.label for piece in group] for _, group in groupby(pieces, key=line_of)]
    if len(lines) > 1 and all(len(labels) == 1 for labels in lines):
        where = "From left to right" if down else "From the top down"
        return (f"{where}: **{_path([labels[0] for labels in lines])}**.",)
    listed = lines if len(lines) <= _MOST_ROWS else lines[: _MOST_ROWS - 2]
    steps = [f"{name} {_line_name(labels[0], down=down)}: **{_path(labels)}**" for labels in listed]
    text = "; ".join((steps[0], *(step[0].lower() + step[1:] for step in steps[1:])))
    if len(listed) < len(lines):
        last = lines[-1]
        text += f"; and so on to {name.lower()} {_line_name(last[0], down=down)}: **{_path(last)}**"
    if len(lines) == 1:
        return (text + ".",)
    other = "right" if down else "below"
    return (text + ".", f"Then each {name.lower()} to the one {other}, in the same order.")


def _line_name(label: str, *, down: bool) -> str:
    """The number of a row or of a column."""
    row, column = read_label(label)
    return str((column if down else row) + 1)


def _path(labels: list[str]) -> str:
    if len(labels) > 6:  # noqa: PLR2004 - more than a line of labels is read as a range.
        return f"{labels[0]} – {labels[1]} – … – {labels[-1]}"
    return " – ".join(labels)


def _tape(pack: PackContent) -> tuple[str, ...]:
    steps = _tape_on_back(pack) if pack.spec.print.mirror else (_tape_on_face(pack),)
    if not pack.spec.seams.protect:
        return steps
    count = len(pack.spec.seams.protect)
    areas = "the protected area" if count == 1 else f"the {count} protected areas"
    why = (
        "pressure comes through tape unevenly"
        if pack.spec.print.mirror
        else "what tape covers cannot be seen to trace"
    )
    return (*steps, f"**Nothing over {areas}**: {why}.")


def _tape_on_face(pack: PackContent) -> str:
    if not pack.plan.tape_spots:
        return "Use small bits of low-tack tape across the seam, as few as hold."
    return (
        f"{_bits(pack)}, on the face, where the map shows them: {_order(pack)}. They lie where "
        "least is to be traced; use no more than hold."
    )


def _tape_on_back(pack: PackContent) -> tuple[str, ...]:
    """The face will lie on the support, and the map shows the face."""
    hold = (
        "Hold the sheets with a few bits on the face, turn them over **all together**, tape the "
        "back, and take those bits off again: the face will lie on the support."
    )
    if not pack.plan.tape_spots:
        return (hold, "Use small bits of low-tack tape across the seam, as few as hold.")
    return (
        hold,
        (
            f"{_bits(pack)}, on the **back**, {_order(pack)}. The map shows their places as seen "
            "from the face; use no more than hold."
        ),
    )


def _bits(pack: PackContent) -> str:
    """How many bits of tape, and how large."""
    spots = pack.plan.tape_spots
    sides = max(sorted((spot.rect_mm.height, spot.rect_mm.width)) for spot in spots)
    size = measures_for(pack.spec.sheet.format).size(sides[1], sides[0])
    return f"**{counted(len(spots), 'bit')}** of thin low-tack tape, about {size} each"


def _order(pack: PackContent) -> str:
    """Junctions hold the most, so they come first."""
    number = sum(spot.at_junction for spot in pack.plan.tape_spots)
    where = "the junction" if number == 1 else f"the {number} junctions"
    return f"first at {where}, then along the seams" if number else "along the seams"


def _check(pack: PackContent) -> tuple[str, ...]:
    say = measures_for(pack.spec.sheet.format)
    joined = [check for check in pack.plan.check_lengths if check.scope == "joined"]
    alone = pack.plan.sheet_count == 1
    steps = [_length(check, say, alone=alone) for check in joined if "diagonal" not in check.name]
    diagonals = [check for check in joined if "diagonal" in check.name]
    if diagonals:
        first = diagonals[0]
        steps.append(
            f"Both diagonals: **{say.length(first.length_mm)}**, ± {first.tolerance_mm:.1f} mm, "
            "and **alike**. If one is longer, the picture leans that way."
        )
    return (*steps, _if_off(pack))


def _if_off(pack: PackContent) -> str:
    """What to do about a length that is off, by what it can come from."""
    again = "One is off? Measure again with the paper flat."
    alike = "All off **in the same proportion**: it is the printer or damp"
    if pack.plan.sheet_count == 1:
        return f"{again} {alike}; measure the scale bar. Otherwise a cut missed its line."
    return (
        f"{again} {alike}; measure one piece from cut to cut, as its head strip says. Otherwise "
        "find the seam that gapes, overlaps or breaks a line; lift its tape, lay it again. If a "
        f"sheet itself is wrong, print it again alone by its label (pack **{pack.text.number}**)."
    )


def _length(check: CheckLength, say: Measures, *, alone: bool) -> str:
    """One length; a single sheet has but one left and one right."""
    where = "" if alone else f", {check.start} to {check.end}"
    return (
        f"{check.name.capitalize()}{where}: **{say.length(check.length_mm)}**, "
        f"± {check.tolerance_mm:.1f} mm."
    )
