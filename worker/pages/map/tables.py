"""The words around the map: title and four figures above, tables and legend below."""

from __future__ import annotations

from worker.pages.lengths import format_title, label_list, stack_name
from worker.pages.map.legend import draw_legend, lapped, legend_height
from worker.pages.map.placement import MapPlacement
from worker.pages.map.table import ROW_MM, Row, Table, column_starts
from worker.pages.pack_content import PackContent
from worker.pdf.canvas import LineStyle, PdfCanvas
from worker.pdf.palette import BLACK, HAIR_MM, body, display, kicker
from worker.spec.plan import CheckLength, Edge, Rect

#: More rows than this are counted only: every sheet shows its own cuts.
_MOST_ROWS = 7
_STACK_EDGES: tuple[Edge, ...] = ("left", "top", "right", "bottom")
#: Where the figures begin, in shares of the width.
_FIGURE_SHARES = (0.0, 0.20, 0.48, 0.78)
_STACK_SHARES = (0.24, 0.35, 0.46, 0.57, 0.69)


def draw_header(canvas: PdfCanvas, pack: PackContent, content: Rect) -> float:
    """Kicker, title, rule and figures; returns where the drawing may begin."""
    k, y = pack.scale, content.top
    canvas.text((content.left, y + 2 * k), pack.words("map.kicker"), kicker(pack.type_pt(7)))
    number = pack.text.number
    if pack.plan.map_pages:
        number = pack.words("pack.page", number=number, page=1, pages=pack.pages)
    canvas.text((content.right, y + 2 * k), number, body(pack.type_pt(7)), align="right")
    y += 12.5 * k
    y = _title(canvas, pack, content, y)
    canvas.line((content.left, y), (content.right, y), LineStyle(ink=BLACK, width_mm=HAIR_MM))
    return draw_figures(canvas, pack, content, y + 7.4 * k) + 3 * k


def _title(canvas: PdfCanvas, pack: PackContent, content: Rect, y: float) -> float:
    """The title on one line as large as it fits, or in smaller type on two."""
    k, title = pack.scale, pack.title
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
    say, words = pack.say, pack.words
    figures = (
        (
            str(plan.sheet_count),
            words("map.sheets", count=plan.sheet_count, format=format_title(spec.sheet.format)),
        ),
        (say.figures(plan.picture.width_mm, plan.picture.height_mm), words("map.picture")),
        (say.figures(spec.support.width_mm, spec.support.height_mm), _support(pack)),
        *([_joint(pack)] if plan.seams else []),
    )
    large, small = display(15 * k), body(pack.type_pt(7))
    needs = [canvas.width(caption, small) + 2 for _, caption in figures]
    starts = column_starts(_FIGURE_SHARES[: len(figures)], needs, content.width)
    for (figure, caption), start, end in zip(figures, starts, (*starts[1:], None), strict=True):
        room = (content.width if end is None else end - 2) - start
        size_pt = large.size_pt * min(1.0, room / canvas.width(figure, large))
        canvas.text((content.left + start, y), figure, display(size_pt))
        canvas.text((content.left + start, y + 4 * k), canvas.fit(caption, small, room), small)
    if not say.inches:
        return y + 4 * k
    for start, (width, height) in (
        (starts[1], (plan.picture.width_mm, plan.picture.height_mm)),
        (starts[2], (spec.support.width_mm, spec.support.height_mm)),
    ):
        inches = say.inches_of(width, height)
        canvas.text((content.left + start, y + 7.2 * k), inches, small)
    return y + 7.2 * k


def _support(pack: PackContent) -> str:
    """What stands under the support's size."""
    border_mm = pack.spec.support.border_mm
    if not border_mm:
        return pack.words("map.support")
    return pack.words("map.support-border", border=pack.words.measure(border_mm, "mm", 2))


def _joint(pack: PackContent) -> tuple[str, str]:
    """How sheets meet, and how seams run."""
    words, seams = pack.words, pack.spec.seams
    joint = words("map.edge-to-edge")
    if seams.joint == "lap":
        joint = lapped(pack)
    return joint, words(f"map.seams-{seams.arrangement}")


def tables_height(pack: PackContent, width_mm: float) -> float:
    """How much of the page the tables and the legend take."""
    rows = max(len(check_rows(pack)), len(stack_rows(pack)))
    return (16.0 + ROW_MM * rows) * pack.scale + legend_height(pack, width_mm)


def draw_tables(canvas: PdfCanvas, placement: MapPlacement, room: Rect) -> None:
    """Check lengths at the left, trim stacks at the right, the legend at the foot."""
    pack = placement.pack
    k = pack.scale
    canvas.line(
        (room.left, room.top), (room.right, room.top), LineStyle(ink=BLACK, width_mm=HAIR_MM)
    )
    gap, top = 7 * k, room.top + 4.6 * k
    checks, cuts = _checks(pack), _cuts(pack)
    wide = max(room.width * 0.40 - gap, checks.least_mm(canvas))
    checks.draw(canvas, Rect(room.left, top, wide, room.height))
    wide += gap
    if cuts.rows:
        cuts.draw(canvas, Rect(room.left + wide, top, room.width - wide, room.height))
    draw_legend(canvas, placement, room)


def _checks(pack: PackContent) -> Table:
    columns = ((pack.words("map.checks"), 0.0), ("", 0.46))
    return Table(pack=pack, columns=columns, rows=check_rows(pack))


def _cuts(pack: PackContent) -> Table:
    words = pack.words
    name = words("map.stacks" if pack.stacked else "map.cuts")
    heads = (*(words(f"map.edge-{edge}") for edge in _STACK_EDGES), words("map.stack-sheets"))
    columns = ((name, 0.0), *zip(heads, _STACK_SHARES, strict=True))
    return Table(
        pack=pack, columns=columns if pack.stacked else columns[:-1], rows=stack_rows(pack)
    )


def check_rows(pack: PackContent) -> list[Row]:
    """The lengths to measure on the joined enlargement, and on the sheet that is printed first."""
    words, lengths = pack.words, pack.plan.check_lengths
    # Both diagonals are of one length.
    shown = {
        "diagonals" if "diagonal" in check.name else check.name: check
        for check in lengths
        if check.scope == "joined"
    }
    rows = [
        Row(words(f"map.check-{name}"), (_checked(pack, check),)) for name, check in shown.items()
    ]
    if not pack.plan.seams:
        # One sheet alone is the whole picture, and is tested by its lengths.
        return rows
    tested = pack.plan.sheet_to_test.label
    rows += [
        Row(words(f"map.tested-{check.name}", label=tested), (_checked(pack, check),))
        for check in lengths
        # One sheet alone has the picture's own sides.
        if check.scope == "sheet" and pack.plan.seams
    ]
    return rows


def _checked(pack: PackContent, check: CheckLength) -> str:
    """A length, and by how much it may differ."""
    return f"{pack.say.length(check.length_mm)} ± {pack.words.number(check.tolerance_mm, 1)}"


def stack_rows(pack: PackContent) -> list[Row]:
    """The trim stacks with their cuts, or each sheet's; what does not fit is counted."""
    stacks = pack.plan.trim_stacks
    shown = stacks if len(stacks) <= _MOST_ROWS else stacks[: _MOST_ROWS - 1]
    rows = []
    for number, stack in enumerate(shown):
        margin = stack.margin_mm
        cuts = (
            pack.words.number(margin[edge], 1) if edge in margin else pack.words("sheet.flap-edge")
            for edge in _STACK_EDGES
        )
        sheets = label_list(pack.words, stack.labels, most=3)
        name, says = (stack_name(number), (*cuts, sheets)) if pack.stacked else (sheets, (*cuts,))
        rows.append(Row(name, says))
    if len(shown) < len(stacks):
        left = len(stacks) - len(shown)
        rows.append(Row("…", (pack.words("map.more", count=left),), across=True))
    return rows
