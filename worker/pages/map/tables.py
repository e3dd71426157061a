"""The words around the map: title and four figures above, tables and legend below."""

from __future__ import annotations

from dataclasses import dataclass

from worker.pages.lengths import format_title, label_list, measures_for, stack_name
from worker.pages.map.legend import draw_legend
from worker.pages.map.placement import MapPlacement
from worker.pages.pack_content import PackContent
from worker.pdf.canvas import LineStyle, PdfCanvas
from worker.pdf.palette import BLACK, HAIR_MM, PENCIL, body, display, kicker, strong
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


def draw_header(canvas: PdfCanvas, pack: PackContent, content: Rect) -> float:
    """Kicker, title, rule and figures; returns where the drawing may begin."""
    k, y = pack.scale, content.top
    canvas.text((content.left, y + 2 * k), "ASSEMBLY MAP", kicker(pack.type_pt(7)))
    number = pack.text.number
    if pack.plan.map_pages:
        number += f"   ·   page 1 of {pack.pages}"
    canvas.text((content.right, y + 2 * k), number, body(pack.type_pt(7), PENCIL), align="right")
    y += 12.5 * k
    y = _title(canvas, pack, content, y)
    canvas.line((content.left, y), (content.right, y), LineStyle(ink=BLACK, width_mm=HAIR_MM))
    return draw_figures(canvas, pack, content, y + 7.4 * k) + 3 * k


def _title(canvas: PdfCanvas, pack: PackContent, content: Rect, y: float) -> float:
    """The title on one line as large as it fits, or in smaller type on two."""
    k, title = pack.scale, clean(pack.text.title) or "Untitled"
    large, small = display(25 * k), display(17 * k)
    size = large.size_pt * min(1.0, content.width / max(1.0, canvas.width(title, large)))
    if size >= small.size_pt:
        canvas.text((content.left, y), title, display(size))
        return y + 4.6 * k
    first = canvas.fit(title, small, content.width).removesuffix("…")
    broken = first.rpartition(" ")[0] or first
    rest = title[len(broken) :].strip()
    canvas.text((content.left, y - 2 * k), broken, small)
    canvas.text((content.left, y + 5 * k), canvas.fit(rest, small, content.width), small)
    return y + 9.2 * k


def draw_figures(canvas: PdfCanvas, pack: PackContent, content: Rect, y: float) -> float:
    """Three or four figures with what they are, in columns; one sheet has no joint."""
    k, spec, plan = pack.scale, pack.spec, pack.plan
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
        style, small = display(15 * k), body(pack.type_pt(7), PENCIL)
        canvas.text((x, y), canvas.fit(figure, style, room), style)
        canvas.text((x, y + 4 * k), canvas.fit(caption, small, room), small)
    if not say.inches:
        return y + 4 * k
    for share, (width, height) in (
        (shares[1], (plan.picture.width_mm, plan.picture.height_mm)),
        (shares[2], (spec.support.width_mm, spec.support.height_mm)),
    ):
        inches = f"{width / 25.4:.2f} × {height / 25.4:.2f} in"
        canvas.text((content.left + share * content.width, y + 7.2 * k), inches, small)
    return y + 7.2 * k


def _size(width_mm: float, height_mm: float) -> str:
    return f"{width_mm:g} × {height_mm:g}"


def tables_height(pack: PackContent) -> float:
    """How much of the page the tables and the legend take."""
    rows = max(len(check_rows(pack)), len(stack_rows(pack)))
    return (16.0 + _ROW_MM * rows) * pack.scale


def draw_tables(canvas: PdfCanvas, placement: MapPlacement, room: Rect) -> None:
    """Check lengths at the left, trim stacks at the right, the legend at the foot."""
    pack = placement.pack
    k = pack.scale
    canvas.line(
        (room.left, room.top), (room.right, room.top), LineStyle(ink=BLACK, width_mm=HAIR_MM)
    )
    gap = 7 * k
    left = Rect(room.left, room.top + 4.6 * k, room.width * 0.40 - gap, room.height)
    right = Rect(room.left + room.width * 0.40, left.top, room.width * 0.60, room.height)
    checks, stacks = check_rows(pack), stack_rows(pack)
    _table(canvas, pack, left, (("check lengths", 0.0), ("", 0.46)), checks)
    if not stacks:
        draw_legend(canvas, placement, room.left, room.bottom - 0.6 * k)
        return
    name = "stack, mm" if pack.stacked else "cuts, mm"
    columns = ((name, 0.0), *zip(_STACK_HEADS, _STACK_SHARES, strict=True))
    _table(canvas, pack, right, columns if pack.stacked else columns[:-1], stacks)
    draw_legend(canvas, placement, room.left, room.bottom - 0.6 * k)


def _table(
    canvas: PdfCanvas,
    pack: PackContent,
    room: Rect,
    columns: tuple[tuple[str, float], ...],
    rows: list[Row],
) -> None:
    """Rows under small headings; a column has a heading and begins at a share of the width."""
    k, size_pt = pack.scale, pack.type_pt(7)
    for heading, share in columns:
        canvas.text((room.left + share * room.width, room.top), heading, body(size_pt, PENCIL))
    for number, row in enumerate(rows):
        y = room.top + (4.6 + _ROW_MM * number) * k
        canvas.text((room.left, y), row.name, strong(size_pt))
        ends = (*(share for _, share in columns[2 : len(row.says) + 1]), 1.0)
        for says, (_, share), end in zip(row.says, columns[1:], ends, strict=False):
            fitted = canvas.fit(says, body(size_pt), (end - share) * room.width - 0.8)
            canvas.text((room.left + share * room.width, y), fitted, body(size_pt))


def check_rows(pack: PackContent) -> list[Row]:
    """The lengths to measure on the joined enlargement, and on the sheet that is printed first."""
    say = measures_for(pack.spec.sheet.format)
    lengths = pack.plan.check_lengths
    # Both diagonals are of one length.
    shown = {
        "both diagonals" if "diagonal" in check.name else check.name: check
        for check in lengths
        if check.scope == "joined"
    }
    rows = [
        Row(name, (f"{say.length(check.length_mm)} ± {check.tolerance_mm:.1f}",))
        for name, check in shown.items()
    ]
    for check in lengths:
        if check.scope == "sheet":
            length = f"{say.length(check.length_mm)} ± {check.tolerance_mm:.1f}"
            rows.append(Row(f"{pack.plan.sheet_to_test.label}, {check.name}", (length,)))
    return rows


def stack_rows(pack: PackContent) -> list[Row]:
    """The trim stacks with their cuts, or each sheet's; what does not fit is counted."""
    stacks = pack.plan.trim_stacks
    shown = stacks if len(stacks) <= _MOST_ROWS else stacks[: _MOST_ROWS - 1]
    rows = []
    for number, stack in enumerate(shown):
        margin = stack.margin_mm
        cuts = (f"{margin[edge]:.1f}" if edge in margin else "flap" for edge in _STACK_EDGES)
        sheets = label_list(pack.words, stack.labels, most=3)
        name, says = (stack_name(number), (*cuts, sheets)) if pack.stacked else (sheets, (*cuts,))
        rows.append(Row(name, says))
    if len(shown) < len(stacks):
        left = len(stacks) - len(shown)
        rows.append(Row("…", (f"and {left} more: every sheet shows its own cuts",)))
    return rows
