"""The guide's section on printing, in the figures of one pack.

Sources: what a printer's page fitting does to a length (94 to 97 %), what an engine's own error
stays under (2 %), and that printers cut off what stands at the edges (3 to 18 mm), are common
practice among printers.
"""

from __future__ import annotations

from itertools import groupby

from worker.layout.printer_readings import ENGINE_ERROR
from worker.pages.guide.sections import Section, section
from worker.pages.lengths import format_title
from worker.pages.pack_content import PackContent
from worker.pdf.text import clean

#: Page fitting shrinks at least this far (common practice).
_FITTED = 0.97
_CORRECTION_SEEN = 5e-5
#: Warnings that are advice before a pack is made; once it is, they help nobody.
_SETTLED = frozenset({"much-ink"})


def printing(pack: PackContent) -> Section:
    """Settings, the page that is printed first, what it must measure, and what if it does not."""
    steps = [
        (
            f"Load **{format_title(pack.spec.sheet.format)}** paper. Choose **actual size "
            f"(100 %)**, upright, one-sided, **best quality**, {_ink(pack)}. Switch off “fit to "
            "page”, “shrink” and “borderless”."
        ),
        _test(pack),
    ]
    rest = _remaining_pages(pack)
    if rest:
        steps.append(
            f"When it measures true, print **{rest}**. Print, cut and join on one day and on one "
            f"kind of paper: paper grows with damp.{_grid_pages(pack)}"
        )
    return section("Print", tuple(steps), *_notes(pack))


def _test(pack: PackContent) -> str:
    """The sheet that is printed first, and what it measures from cut to cut."""
    tested = pack.plan.sheet_to_test
    which = f" (sheet {tested.label})" if pack.plan.seams else ""
    lengths = " and ".join(
        f"**{pack.say.length(check.length_mm)} ± {check.tolerance_mm:.1f} mm** {_WAYS[check.name]}"
        for check in pack.plan.check_lengths
        if check.scope == "sheet"
    )
    text = (
        f"Print **page {tested.page}**{which} alone first. Measure its picture with a steel rule, "
        f"from cut to cut: {lengths}."
    )
    if tested.tells:
        return text
    return (
        f"{text} **So short a length does not show how true the printer is**: print and measure "
        "the printer’s test page, or join the first row and measure it before you print the rest."
    )


_WAYS = {"across": "across the page", "down": "down"}


def _notes(pack: PackContent) -> tuple[str, ...]:
    """What holds only if something is so."""
    return (_if_off(pack), _if_clipped(), *_printer_note(pack), *_warnings(pack))


def _if_off(pack: PackContent) -> str:
    # What is measured on a corrected page is what the correction has left over.
    which = "this pack’s corrections, each times" if _corrected(pack) else "the correction:"
    return (
        f"**Off by more, but by less than {ENGINE_ERROR * 100:.0f} %?** That is the printer. Make "
        f"the pack again with {which} true length ÷ measured length, across and down apart. "
        f"{(1 - _FITTED) * 100:.0f} % too short or more: page fitting is on."
    )


def _if_clipped() -> str:
    """What to do about a printer that cuts off what stands at the edges."""
    return (
        "**A tick, some words or the scale bar are missing at an edge?** The printer prints "
        "nothing there. As long as the picture and its cut lines are whole, the sheet is not "
        "lost: lay the rule from tick to tick, and use the cuts in figures where one is missing. "
        "If picture is missing, print the printer’s **test page**: it shows the margin at each "
        "edge. Enter those margins, and make the pack again."
    )


def _printer_note(pack: PackContent) -> tuple[str, ...]:
    """Which printer the pack is for, if any."""
    print_, printer = pack.spec.print, _printer(pack)
    if _corrected(pack):
        says = (
            f"This pack is **corrected for {printer or 'one printer'}**: × "
            f"{print_.across_correction:.4f} across, × {print_.down_correction:.4f} down. "
            "Print it on no other."
        )
        return (says,)
    if printer:
        return (f"This pack is made for **{printer}**, which prints true: no correction.",)
    return ()


def _ink(pack: PackContent) -> str:
    """What to choose for ink; a printer's grey is dots, and dots fray thin lines."""
    style = pack.spec.tone.style
    if style == "colour":
        return "in **colour**"
    if style == "outline":
        return "in **black**, no draft and no toner saving: thin lines fray"
    return "in **grey**, black ink only"


def _printer(pack: PackContent) -> str:
    """What the person calls the printer; stars would set it in bold."""
    return clean(pack.spec.print.printer).replace("**", "").strip()


def _warnings(pack: PackContent) -> tuple[str, ...]:
    """What the plan warns of, as far as it still matters once the pack is there."""
    details = [one.detail for one in pack.plan.warnings if one.code not in _SETTLED]
    return tuple(f"**Mind**: {detail}" for detail in details)


def _corrected(pack: PackContent) -> bool:
    print_ = pack.spec.print
    off = max(abs(print_.across_correction - 1), abs(print_.down_correction - 1))
    return off > _CORRECTION_SEEN


def _remaining_pages(pack: PackContent) -> str:
    """The sheets' pages without the one that was printed first: `pages 4 to 6, 8 and 9`."""
    tested = pack.plan.sheet_to_test.page
    pages = sorted(piece.page for piece in pack.plan.pieces if piece.page != tested)
    if not pages:
        return ""
    runs = [
        [page for _, page in run]
        for _, run in groupby(enumerate(pages), key=lambda place: place[1] - place[0])
    ]
    parts = [f"{run[0]} to {run[-1]}" if len(run) > 1 else str(run[0]) for run in runs]
    return f"page{'s' if len(pages) > 1 else ''} {' and '.join(parts)}"


def _grid_pages(pack: PackContent) -> str:
    """The two pages to draw by eye from, where there is a grid."""
    if pack.spec.grid is None:
        return ""
    first = pack.plan.first_grid_page
    return f" Pages **{first} and {first + 1}** have the grid, to draw by eye without transfer."
