"""The guide's section on cutting, in the figures of one pack.

The knife along the rule, and the doubt about a pile of prints, are common practice in studios.
"""

from __future__ import annotations

from worker.pages.guide.sections.cautions import comes_first
from worker.pages.lengths import label_list, stack_name
from worker.pages.pack_content import PackContent
from worker.pages.section import Section, section
from worker.spec.plan import Edge, TrimStack

#: More stacks than this are summed up in a rule instead of listed.
_MOST_STACKS = 5
_MOST_PARTS = 4
_CUT_IN_ORDER: tuple[Edge, ...] = ("left", "top", "right", "bottom")


def cutting(pack: PackContent) -> Section:
    """Which cuts there are, and which sheets are cut together."""
    words = pack.words
    steps = _one(pack) if pack.plan.sheet_count == 1 else _many(pack)
    return section(words("guide.section.cut"), steps, words("guide.cut.blades"), *comes_first(pack))


def _one(pack: PackContent) -> tuple[str, ...]:
    """One sheet is measured at once: nothing is joined that would be measured later."""
    words, picture = pack.words, pack.plan.picture
    size = pack.say.size(picture.width_mm, picture.height_mm)
    off_mm = max(check.tolerance_mm for check in pack.plan.check_lengths)
    return (
        words("guide.cut.one", page=pack.plan.first_sheet_page),
        words("guide.cut.knife"),
        words("guide.cut.flap-one"),
        words("guide.cut.measure", size=size, tolerance=pack.say.length(off_mm)),
    )


def _many(pack: PackContent) -> tuple[str, ...]:
    words = pack.words
    flap = words("guide.cut.flap-wall" if pack.plan.on_wall else "guide.cut.flap")
    lap = (words("guide.cut.lap"),) if pack.spec.seams.joint == "lap" else ()
    stacks = _stacks(pack) if pack.stacked else (_all_unlike(pack),)
    return (words("guide.cut.backs"), words("guide.cut.knife"), flap, *lap, *stacks)


def _stacks(pack: PackContent) -> tuple[str, ...]:
    """The settings of the cutter, stack by stack where they are few."""
    words, stacks = pack.words, pack.plan.trim_stacks
    if len(stacks) > _MOST_STACKS:
        return (words("guide.cut.many-stacks", count=len(stacks)),)
    how = words("guide.cut.stacks-inches" if pack.say.inches else "guide.cut.stacks")
    return (how, *(_stack(number, stack, pack) for number, stack in enumerate(stacks)))


def _all_unlike(pack: PackContent) -> str:
    """Every piece is at the usable area's top left, so these two cuts are shared."""
    stacks = pack.plan.trim_stacks
    shared: tuple[Edge, ...] = ("left", "top")
    edges = [edge for edge in shared if all(edge in stack.margin_mm for stack in stacks)]
    return pack.words("guide.cut.unlike", cuts=_cuts(pack, stacks[0], edges))


def _stack(number: int, stack: TrimStack, pack: PackContent) -> str:
    edges = [edge for edge in _CUT_IN_ORDER if edge in stack.margin_mm]
    return pack.words(
        "guide.cut.stack",
        name=stack_name(number),
        sheets=_stack_sheets(stack, pack),
        cuts=_cuts(pack, stack, edges),
    )


def _cuts(pack: PackContent, stack: TrimStack, edges: list[Edge]) -> str:
    """How far some cuts are from their edges of the page."""
    words, say = pack.words, pack.say
    return words.listed(
        words(f"guide.cut.edge-{edge}", length=say.setting(stack.margin_mm[edge])) for edge in edges
    )


def _stack_sheets(stack: TrimStack, pack: PackContent) -> str:
    """Which sheets; how many too, where not all are named."""
    labels = label_list(pack.words, stack.labels, most=_MOST_PARTS)
    if not labels.endswith("…"):
        return labels
    return pack.words("guide.cut.stack-sheets", count=len(stack.labels), labels=labels)
