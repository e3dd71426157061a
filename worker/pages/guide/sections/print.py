"""The guide's section on printing, in the figures of one pack.

Sources: what a printer's page fitting does to a length (94 to 97 %), what an engine's own error
stays under (2 %), and that printers cut off what stands at the edges (3 to 18 mm), are common
practice among printers.
"""

from __future__ import annotations

from itertools import chain, groupby

from worker.layout.measuring.printer_readings import ENGINE_ERROR
from worker.pages.lengths import format_title
from worker.pages.pack_content import PackContent
from worker.pages.section import Section, section
from worker.pdf.text import clean

#: Page fitting shrinks at least this far (common practice).
_FITTED = 0.97
_CORRECTION_SEEN = 5e-5
#: So many pages are both named, not told as a range.
_PAIR = 2
#: Warnings that ask for care with some of the sheets.
_HANDLED = ("protected-area-crossed", "seam-through-eye", "four-corners-meet", "narrow-piece")


def printing(pack: PackContent) -> Section:
    """Settings, the page that is printed first, what it must measure, and what if it does not."""
    words = pack.words
    steps = (_load(pack), *_test(pack), *_rest(pack))
    return section(words("guide.section.print"), steps, *_notes(pack))


def _load(pack: PackContent) -> str:
    """What to choose for ink; a printer's grey is dots, and dots fray thin lines."""
    words, style = pack.words, pack.spec.tone.style
    format_ = format_title(pack.spec.sheet.format)
    if style == "colour":
        return words("guide.print.load-colour", format=format_)
    return words(
        "guide.print.load-lines" if style == "outline" else "guide.print.load-grey", format=format_
    )


def _test(pack: PackContent) -> tuple[str, ...]:
    """The sheet that is printed first, and what it measures from cut to cut."""
    words, tested = pack.words, pack.plan.sheet_to_test
    across, down = (_length(pack, way) for way in ("across", "down"))
    if pack.plan.seams:
        text = words(
            "guide.print.test",
            page=tested.page,
            label=tested.label,
            across=across,
            down=down,
        )
    else:
        text = words("guide.print.test-one", page=tested.page, across=across, down=down)
    return (text,) if tested.tells else (text, words("guide.print.too-short"))


def _length(pack: PackContent, way: str) -> str:
    """What the tested sheet measures one way, and what it may be off."""
    say, checks = pack.say, pack.plan.check_lengths
    check = next(one for one in checks if one.scope == "sheet" and one.name == way)
    return f"{say.length(check.length_mm)} ± {say.length(check.tolerance_mm)}"


def _rest(pack: PackContent) -> tuple[str, ...]:
    """The sheets' pages without the one that was printed first: `4 to 6, 8, and 9`."""
    words, tested = pack.words, pack.plan.sheet_to_test.page
    pages = sorted(piece.page for piece in pack.plan.pieces if piece.page != tested)
    if not pages:
        return ()
    runs = [
        [page for _, page in run]
        for _, run in groupby(enumerate(pages), key=lambda place: place[1] - place[0])
    ]
    listed = words.listed(chain.from_iterable(_said(pack, run) for run in runs))
    return (words("guide.print.rest", count=len(pages), pages=listed),)


def _said(pack: PackContent, run: list[int]) -> list[str]:
    """Pages that follow each other: from first to last, or both if there are only two."""
    if len(run) <= _PAIR:
        return [str(page) for page in run]
    return [pack.words("labels.range", first=run[0], last=run[-1])]


def _notes(pack: PackContent) -> tuple[str, ...]:
    """What holds only if something is so."""
    clipped = pack.words("guide.print.clipped")
    return (_if_off(pack), clipped, *_printer_note(pack), *_grid_pages(pack), *_warnings(pack))


def _if_off(pack: PackContent) -> str:
    words = pack.words
    # What is measured on a corrected page is what the correction has left over.
    return words(
        "guide.print.off-corrected" if _corrected(pack) else "guide.print.off",
        most=words.number(ENGINE_ERROR * 100),
        fitted=words.number((1 - _FITTED) * 100),
    )


def _printer_note(pack: PackContent) -> tuple[str, ...]:
    """Which printer the pack is for, if any."""
    words, print_, printer = pack.words, pack.spec.print, _printer(pack)
    if not _corrected(pack):
        return (words("guide.print.true", printer=printer),) if printer else ()
    across = words.number(print_.across_correction, 4)
    down = words.number(print_.down_correction, 4)
    if printer:
        return (words("guide.print.corrected", printer=printer, across=across, down=down),)
    return (words("guide.print.corrected-unnamed", across=across, down=down),)


def _printer(pack: PackContent) -> str:
    """What the person calls the printer; stars would set it in bold."""
    return clean(pack.spec.print.printer).replace("**", "").strip()


def _warnings(pack: PackContent) -> tuple[str, ...]:
    """What the plan warns of, as far as it still matters with the sheets in hand."""
    words, say, plan = pack.words, pack.say, pack.plan
    codes = dict.fromkeys(one.code for one in plan.warnings)
    found = [words(f"guide.mind.{code}") for code in _HANDLED if code in codes]
    if "reference-too-small" in codes:
        finest = say.length(plan.resolution.finest_line_mm)
        found.append(words("guide.print.soft", finest=finest))
    elif "reference-blurred" in codes:
        found.append(words("guide.print.blurred"))
    if "many-sheets" in codes and not plan.on_wall:
        found.append(words("guide.print.many"))
    return tuple(found)


def _corrected(pack: PackContent) -> bool:
    print_ = pack.spec.print
    off = max(abs(print_.across_correction - 1), abs(print_.down_correction - 1))
    return off > _CORRECTION_SEEN


def _grid_pages(pack: PackContent) -> tuple[str, ...]:
    """The two pages to draw by eye from, where there is a grid."""
    if pack.spec.grid is None:
        return ()
    first = pack.plan.first_grid_page
    return (pack.words("guide.print.grid", first=first, second=first + 1),)
