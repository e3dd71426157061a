"""The words around the map: title and four figures above, tables and legend below."""

from __future__ import annotations

from dataclasses import dataclass

from worker.pages.lengths import format_title, label_list, measures_for, stack_name
from worker.pages.map.legend import draw_legend
from worker.pages.map.placement import Plate
from worker.pages.page_frame import Job
from worker.pdf.palette import GRAPHITE, HAIR_MM, PENCIL, body, display, kicker, strong
from worker.pdf.pen import Pen, Stroke
from worker.pdf.text import clean
from worker.spec.plan import Edge, Rect

#: More rows than this are counted only: every sheet shows its own cuts.
_MOST_ROWS = 7
_ROW_MM = 4.1
_STACK_EDGES: tuple[Edge, ...] = ("left", "top", "right", "bottom")
_STACK_HEADS = ("left", "head", "right", "foot", "sheets")
_STACK_SHARES = (0.24, 0.35, 0.46, 0.57, 0.69)


@dataclass(frozen=True)
class Row:
    """One line of a table: what it is about, and what it says, in columns."""

    name: str
    says: tuple[str, ...]


def draw_header(pen: Pen, job: Job, content: Rect) -> float:
    """Kicker, title, rule and figures; returns where the drawing may begin."""
    k, y = job.scale, content.top
    pen.text((content.left, y + 2 * k), "ASSEMBLY MAP", kicker(job.type_pt(7)))
    number = f"{job.text.number}   ·   page 1 of {job.pages}"
    pen.text((content.right, y + 2 * k), number, body(job.type_pt(7), PENCIL), align="right")
    y += 12.5 * k
    y = _title(pen, job, content, y)
    pen.line((content.left, y), (content.right, y), Stroke(ink=GRAPHITE, width_mm=HAIR_MM))
    return draw_figures(pen, job, content, y + 7.4 * k) + 3 * k


def _title(pen: Pen, job: Job, content: Rect, y: float) -> float:
    """The title on one line as large as it fits, or in smaller type on two."""
    k, title = job.scale, clean(job.text.title) or "Untitled"
    large, small = display(25 * k), display(17 * k)
    size = large.size_pt * min(1.0, content.width / max(1.0, pen.width(title, large)))
    if size >= small.size_pt:
        pen.text((content.left, y), title, display(size))
        return y + 4.6 * k
    first = pen.fit(title, small, content.width).removesuffix("…")
    broken = first.rpartition(" ")[0] or first
    rest = title[len(broken) :].strip()
    pen.text((content.left, y - 2 * k), broken, small)
    pen.text((content.left, y + 5 * k), pen.fit(rest, small, content.width), small)
    return y + 9.2 * k


def draw_figures(pen: Pen, job: Job, content: Rect, y: float) -> float:
    """Three or four figures with what they are, in columns; one sheet has no joint."""
    k, spec, plan = job.scale, job.spec, job.plan
    say = measures_for(spec.sheet.format)
    sheets = "sheet" if plan.sheet_count == 1 else "sheets"
    border = f", border {spec.support.border_mm:g} mm" if spec.support.border_mm else ""
    joint = f"lap, {spec.seams.lap_mm:g} mm" if spec.seams.joint == "lap" else "edge to edge"
    figures = (
        (str(plan.sheet_count), f"{sheets}, {format_title(spec.sheet.format)}"),
        (_size(plan.picture.width_mm, plan.picture.height_mm), "picture, mm"),
        (_size(spec.support.width_mm, spec.support.height_mm), f"support, mm{border}"),
        *([(joint, f"joint, {spec.seams.arrangement}")] if plan.seams else []),
    )
    shares = (0.0, 0.20, 0.48, 0.78)
    for (figure, caption), share, end in zip(figures, shares, (*shares[1:], 1.0), strict=False):
        x, room = content.left + share * content.width, (end - share) * content.width - 2
        style, small = display(15 * k), body(job.type_pt(7), PENCIL)
        pen.text((x, y), pen.fit(figure, style, room), style)
        pen.text((x, y + 4 * k), pen.fit(caption, small, room), small)
    if not say.inches:
        return y + 4 * k
    for share, (width, height) in (
        (shares[1], (plan.picture.width_mm, plan.picture.height_mm)),
        (shares[2], (spec.support.width_mm, spec.support.height_mm)),
    ):
        inches = f"{width / 25.4:.2f} × {height / 25.4:.2f} in"
        pen.text((content.left + share * content.width, y + 7.2 * k), inches, small)
    return y + 7.2 * k


def _size(width_mm: float, height_mm: float) -> str:
    return f"{width_mm:g} × {height_mm:g}"


def tables_height(job: Job) -> float:
    """How much of the page the tables and the legend take."""
    rows = max(len(check_rows(job)), len(stack_rows(job)))
    return (16.0 + _ROW_MM * rows) * job.scale


def draw_tables(pen: Pen, plate: Plate, room: Rect) -> None:
    """Check lengths at the left, trim stacks at the right, the legend at the foot."""
    job = plate.job
    k = job.scale
    pen.line((room.left, room.top), (room.right, room.top), Stroke(ink=GRAPHITE, width_mm=HAIR_MM))
    gap = 7 * k
    left = Rect(room.left, room.top + 4.6 * k, room.width * 0.40 - gap, room.height)
    right = Rect(room.left + room.width * 0.40, left.top, room.width * 0.60, room.height)
    checks, stacks = check_rows(job), stack_rows(job)
    _table(pen, job, left, (("check lengths", 0.0), ("", 0.46)), checks)
    name = "stack, mm" if job.stacked else "cuts, mm"
    columns = ((name, 0.0), *zip(_STACK_HEADS, _STACK_SHARES, strict=True))
    _table(pen, job, right, columns if job.stacked else columns[:-1], stacks)
    draw_legend(pen, plate, room.left, room.bottom - 0.6 * k)


def _table(
    pen: Pen, job: Job, room: Rect, columns: tuple[tuple[str, float], ...], rows: list[Row]
) -> None:
    """Rows under small headings; a column has a heading and begins at a share of the width."""
    k, size_pt = job.scale, job.type_pt(7)
    for heading, share in columns:
        pen.text((room.left + share * room.width, room.top), heading, body(size_pt, PENCIL))
    for number, row in enumerate(rows):
        y = room.top + (4.6 + _ROW_MM * number) * k
        pen.text((room.left, y), row.name, strong(size_pt))
        ends = (*(share for _, share in columns[2 : len(row.says) + 1]), 1.0)
        for says, (_, share), end in zip(row.says, columns[1:], ends, strict=False):
            fitted = pen.fit(says, body(size_pt), (end - share) * room.width - 0.8)
            pen.text((room.left + share * room.width, y), fitted, body(size_pt))


def check_rows(job: Job) -> list[Row]:
    """The lengths to measure on the joined enlargement, and the one on each sheet."""
    say = measures_for(job.spec.sheet.format)
    lengths = job.plan.check_lengths
    # Both diagonals are of one length.
    told = {
        "both diagonals" if "diagonal" in check.name else check.name: check
        for check in lengths
        if check.scope == "joined"
    }
    rows = [
        Row(name, (f"{say.length(check.length_mm)} ± {check.tolerance_mm:.1f}",))
        for name, check in told.items()
    ]
    on_sheet = next((check for check in lengths if check.scope == "sheet"), None)
    if on_sheet:
        length = f"{say.length(on_sheet.length_mm)} ± {on_sheet.tolerance_mm:.1f}"
        rows.append(Row("each scale bar", (length,)))
    return rows


def stack_rows(job: Job) -> list[Row]:
    """The trim stacks with their cuts, or each sheet's; what does not fit is counted."""
    stacks = job.plan.trim_stacks
    shown = stacks if len(stacks) <= _MOST_ROWS else stacks[: _MOST_ROWS - 1]
    rows = []
    for number, stack in enumerate(shown):
        margin = stack.margin_mm
        cuts = (f"{margin[edge]:.1f}" for edge in _STACK_EDGES)
        sheets = label_list(stack.labels, most=3)
        name, says = (stack_name(number), (*cuts, sheets)) if job.stacked else (sheets, (*cuts,))
        rows.append(Row(name, says))
    if len(shown) < len(stacks):
        left = len(stacks) - len(shown)
        rows.append(Row("…", (f"and {left} more: every sheet shows its own cuts",)))
    return rows
