"""The guide's section on printing, in the figures of one pack.

Sources: what a printer's page fitting does to a length (94 to 97 %) and what an engine's
own error stays under (2 %) is common practice among printers.
"""

from __future__ import annotations

from worker.layout.checks import SHEET_TOLERANCE_MM
from worker.pages.guide.sections import Section, section
from worker.pages.lengths import Measures, format_title, measures_for
from worker.pages.pack_content import PackContent, SheetPage
from worker.pdf.text import clean

#: An engine's own error; beyond it something else is wrong (common practice).
_ENGINE_ERROR = 0.02
#: Page fitting shrinks at least this far (common practice).
_FITTED = 0.97
_CORRECTION_SEEN = 5e-5
#: Warnings that are advice before a pack is made; once it is, they help nobody.
_SETTLED = frozenset({"much-ink"})


def printing(pack: PackContent) -> Section:
    """Settings, the page that is printed first, and what it must measure."""
    spec, first = pack.spec, pack.plan.pieces[0]
    say = measures_for(spec.sheet.format)
    bar, page = _bar(pack), SheetPage(pack=pack, piece=first)
    across, down = (say.length(page.length_mm(way)) for way in ("across", "down"))
    steps = [
        (
            f"Load **{format_title(spec.sheet.format)}** paper. Choose **actual size (100 %)**, "
            f"upright, one-sided, **best quality**, {_ink(pack)}. Switch off “fit to page”, "
            "“shrink” and “borderless”."
        ),
        (
            f"Print **page {first.page}**{_test_sheet(pack)} alone as a test. Its scale bar "
            f"must measure **{say.length(bar)}**; from cut to cut its picture is **{across}** "
            f"across the page and **{down}** down. Up to {say.length(SHEET_TOLERANCE_MM)} off is "
            "true: a rule is read no closer."
        ),
        _if_off(bar, say, corrected=_corrected(pack)),
    ]
    if _corrected(pack):
        steps.append(
            f"This pack is **corrected for {_printer(pack) or 'one printer'}**: × "
            f"{spec.print.across_correction:.4f} across, × {spec.print.down_correction:.4f} down. "
            "Print it on no other."
        )
    elif _printer(pack):
        steps.append(
            f"This pack is made for **{_printer(pack)}**, which prints true: no correction."
        )
    rest = _remaining_pages(pack)
    if rest:
        steps.append(
            f"When it measures true, print **{rest}**. Print, cut and join on one day and on one "
            f"kind of paper: paper grows with damp.{_grid_pages(pack)}"
        )
    return section("Print", tuple(steps), *_warnings(pack))


def _test_sheet(pack: PackContent) -> str:
    """Which sheet is the test, where there are others."""
    return f" (sheet {pack.plan.pieces[0].label})" if pack.plan.seams else ""


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


def _if_off(bar_mm: float, say: Measures, *, corrected: bool) -> str:
    low, high = bar_mm * (1 - _ENGINE_ERROR), bar_mm * (1 + _ENGINE_ERROR)
    # What is measured on a corrected page is what the correction has left over.
    which = "this pack’s corrections, each times" if corrected else "the printer’s correction:"
    return (
        f"From {say.length(low)} to {say.length(high)} but not true: make the pack again with "
        f"{which} the true length divided by the measured one, across and down apart. "
        f"At {say.length(bar_mm * _FITTED)} or less page fitting is still on: switch it off. "
        "Anything else: measure again, with the paper flat."
    )


def _bar(pack: PackContent) -> float:
    on_sheet = (check for check in pack.plan.check_lengths if check.scope == "sheet")
    found = next(on_sheet, None)
    return found.length_mm if found else 100.0


def _remaining_pages(pack: PackContent) -> str:
    pages = [piece.page for piece in pack.plan.pieces[1:]]
    if not pages:
        return ""
    return f"page {pages[0]}" if len(pages) == 1 else f"pages {pages[0]} to {pages[-1]}"


def _grid_pages(pack: PackContent) -> str:
    """The two pages to draw by eye from, where there is a grid."""
    if pack.spec.grid is None:
        return ""
    first = pack.plan.first_grid_page
    return f" Pages **{first} and {first + 1}** have the grid, to draw by eye without transfer."
