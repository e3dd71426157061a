"""What the guide says about paper: cut, join, tape, check, in one job's own figures.

The order of work and the tape are common practice in studios.
"""

from __future__ import annotations

from itertools import groupby

from worker.drawing.frame import Job
from worker.drawing.guide_print import printing
from worker.drawing.guide_steps import Section, section
from worker.drawing.measures import Measures, label_list, measures_for, stack_name
from worker.layout.plan import CheckLength, Piece, TrimStack

#: More stacks or rows than this are told as a rule instead of one by one.
_MOST_STACKS = 5
_MOST_ROWS = 5
_MOST_PARTS = 4

_BLADES = (
    "**Blades**: a fresh one, on a cutting mat, along a metal rule with a finger guard; cut away "
    "from the hand that holds. Children never use knives unsupervised."
)


def first_page(job: Job) -> tuple[Section, ...]:
    """From the printer to one sheet of paper."""
    sections = [printing(job), section("Cut", _cut(job), _BLADES)]
    if job.plan.sheet_count > 1:
        sections += [section("Join", _join(job)), section("Tape", _tape(job))]
    return (*sections, section("Check", _check(job)))


def _cut(job: Job) -> tuple[str, ...]:
    plan = job.plan
    first = plan.first_sheet_page
    mark = "Before you cut, pencil each sheet’s **label** and an arrow for its **top** on its back."
    knife = (
        "Cut with the metal rule lying **on the picture**, its edge on the inner side of the "
        "hairline, in several light strokes."
    )
    if plan.sheet_count == 1:
        return (f"Cut page {first} along its four cut lines. {knife}",)
    steps = [f"{mark} {knife}"]
    if len(plan.trim_stacks) == plan.sheet_count:
        steps.append(_all_unlike(plan.trim_stacks[0], job))
    elif len(plan.trim_stacks) <= _MOST_STACKS:
        unit = "in mm (inches)" if measures_for(job.spec.sheet.format).inches else "in mm"
        steps.append(
            "Sheets of one **trim stack** are cut at one setting, proved on the hairlines of the "
            f"uppermost. From the paper’s edges, {unit}:"
        )
        steps += [_stack(number, stack, job) for number, stack in enumerate(plan.trim_stacks)]
    else:
        steps.append(
            f"The sheets make **{len(plan.trim_stacks)} trim stacks**: those of one stack are cut "
            "at one setting, proved on the hairlines of the uppermost. Page 1 tells the largest; "
            "every sheet shows its own cuts."
        )
    if job.spec.seams.joint == "lap":
        steps.append("**Do not cut** along dashed lines: the strip beyond them is the lap.")
    return tuple(steps)


def _all_unlike(one: TrimStack, job: Job) -> str:
    """Every piece lies at the usable area's top left, so two of the four cuts are shared."""
    say = measures_for(job.spec.sheet.format)
    return (
        f"No two sheets are cut alike. All share **left {say.setting(one.margin_mm['left'])}** and "
        f"**head {say.setting(one.margin_mm['top'])}** from the paper’s edges: cut those together, "
        "proved on the hairlines of the uppermost, then right and foot of each at its own lines."
    )


def _stack(number: int, stack: TrimStack, job: Job) -> str:
    say, margin = measures_for(job.spec.sheet.format), stack.margin_mm
    return (
        f"Stack **{stack_name(number)}**, {_stack_sheets(stack)}: left "
        f"**{say.setting(margin['left'])}**, head **{say.setting(margin['top'])}**, right "
        f"**{say.setting(margin['right'])}**, foot **{say.setting(margin['bottom'])}**."
    )


def _stack_sheets(stack: TrimStack) -> str:
    text = label_list(stack.labels, most=_MOST_PARTS)
    return f"{len(stack.labels)} sheets ({text})" if text.endswith("…") else text


def _join(job: Job) -> tuple[str, ...]:
    plan, spec = job.plan, job.spec
    if spec.seams.joint == "lap":
        how = (
            "Lay the sheets face up on a flat table. Each slides **under** its right and its lower "
            "neighbour until that neighbour’s edge lies on the dashed line and the picture runs on."
        )
    else:
        how = (
            "Lay the sheets face up on a flat table, edge to edge, so that the picture runs on "
            "across each seam. Nothing overlaps, nothing gapes."
        )
    if any(piece.turned_deg for piece in plan.pieces):
        turned = [piece.label for piece in plan.pieces if piece.turned_deg]
        which = "All sheets" if len(turned) == plan.sheet_count else f"Sheets {label_list(turned)}"
        how += f" {which} were printed on their side: give them a quarter turn to the left."
    return (how, *_lines(job))


def _lines(job: Job) -> tuple[str, ...]:
    """Row by row, or column by column where the columns run through."""
    down = job.plan.run_through == "down"
    name = "Column" if down else "Row"

    def line_of(piece: Piece) -> int:
        return piece.column if down else piece.row

    pieces = sorted(job.plan.pieces, key=lambda piece: (line_of(piece), piece.row, piece.column))
    lines = [[piece.label for piece in group] for _, group in groupby(pieces, key=line_of)]
    if len(lines) > 1 and all(len(labels) == 1 for labels in lines):
        where = "From left to right" if down else "From the top down"
        return (f"{where}: **{_path([labels[0] for labels in lines])}**.",)
    told = lines if len(lines) <= _MOST_ROWS else lines[: _MOST_ROWS - 2]
    steps = [f"{name} {_line_name(labels[0], down=down)}: **{_path(labels)}**" for labels in told]
    text = "; ".join((steps[0], *(step[0].lower() + step[1:] for step in steps[1:])))
    if len(told) < len(lines):
        last = lines[-1]
        text += f"; and so on to {name.lower()} {_line_name(last[0], down=down)}: **{_path(last)}**"
    if len(lines) == 1:
        return (text + ".",)
    other = "right" if down else "below"
    return (text + ".", f"Then each {name.lower()} to the one {other}, in the same order.")


def _line_name(label: str, *, down: bool) -> str:
    """The letter of a row, or the number of a column."""
    letters = label.rstrip("0123456789")
    return label[len(letters) :] if down else letters


def _path(labels: list[str]) -> str:
    if len(labels) > 6:  # noqa: PLR2004 - more than a line of labels is read as a range.
        return f"{labels[0]} – {labels[1]} – … – {labels[-1]}"
    return " – ".join(labels)


def _tape(job: Job) -> tuple[str, ...]:
    spots = job.plan.tape_spots
    if not spots:
        return ("Use small bits of low-tack tape across the seam, as few as hold.",)
    sizes = sorted({tuple(sorted((spot.rect_mm.width, spot.rect_mm.height))) for spot in spots})
    say = measures_for(job.spec.sheet.format)
    size = say.size(sizes[-1][1], sizes[-1][0])
    junctions = sum(spot.at_junction for spot in spots)
    first = _junctions_first(junctions)
    side = (
        "on the **back** (the face will lie on the support; the map shows it as seen from the face)"
        if job.spec.print.mirror
        else ("on the face")
    )
    steps = [
        (
            f"**{_counted(len(spots), 'bit')}** of thin low-tack tape, about {size} each, {side}, "
            f"where the map shows them: {first}along the seams. They lie where least is to be "
            "traced; use no more than hold."
        ),
    ]
    if job.spec.seams.protect:
        count = len(job.spec.seams.protect)
        areas = "the protected area" if count == 1 else f"the {count} protected areas"
        steps.append(f"**Nothing over {areas}**: what tape covers cannot be seen to trace.")
    return tuple(steps)


def _junctions_first(number: int) -> str:
    if number == 0:
        return ""
    where = "the junction" if number == 1 else f"the {number} junctions"
    return f"first at {where}, then "


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _check(job: Job) -> tuple[str, ...]:
    say = measures_for(job.spec.sheet.format)
    joined = [check for check in job.plan.check_lengths if check.scope == "joined"]
    steps = [_length(check, say) for check in joined if "diagonal" not in check.name]
    diagonals = [check for check in joined if "diagonal" in check.name]
    if diagonals:
        first = diagonals[0]
        steps.append(
            f"Both diagonals: **{say.length(first.length_mm)}**, ± {first.tolerance_mm:.1f} mm, "
            "and **alike**. If one is longer, the picture leans that way."
        )
    if job.plan.sheet_count > 1:
        steps.append(
            "One is off? Measure again with the paper flat. Then find the seam that gapes, "
            "overlaps or breaks a line; lift its tape, lay it again. If a sheet itself is wrong, "
            f"print it again alone by its label (pack **{job.text.number}**)."
        )
    return tuple(steps)


def _length(check: CheckLength, say: Measures) -> str:
    return (
        f"{check.name.capitalize()}, {check.start} to {check.end}: "
        f"**{say.length(check.length_mm)}**, ± {check.tolerance_mm:.1f} mm."
    )
