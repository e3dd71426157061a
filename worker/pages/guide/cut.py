"""The guide's section on cutting, in the figures of one pack.

The knife along the rule, and the doubt about a pile of prints, are common practice in studios.
"""

from __future__ import annotations

from worker.pages.guide.sections import Section, section
from worker.pages.lengths import label_list, measures_for, stack_name
from worker.pages.pack_content import PackContent
from worker.spec.plan import Edge, TrimStack

#: More stacks than this are summed up in a rule instead of listed.
_MOST_STACKS = 5
_MOST_PARTS = 4
_EDGES: tuple[tuple[Edge, str], ...] = (
    ("left", "left"),
    ("top", "head"),
    ("right", "right"),
    ("bottom", "foot"),
)

_BLADES = (
    "**Blades**: a fresh one, on a cutting mat, along a metal rule with a finger guard; cut away "
    "from the hand that holds. Children never use knives unsupervised."
)
#: All pieces begin at the left end of what can be printed, where no hairline can stand.
_KNIFE = (
    "Cut with the metal rule lying **on the picture**, its edge on the inner side of the hairline, "
    "in several light strokes. The left side, and any other without a hairline, runs **from tick "
    "to tick**."
)
#: The joined sheets are hinged by it.
_FLAP = (
    "The picture’s **top is not cut**: what is beyond its dashed line is the flap to hinge it by."
)
#: Printers feed no two sheets quite alike.
_ALIKE = "if, held against the light, their hairlines lie on each other"


def cutting(pack: PackContent) -> Section:
    """Which cuts there are, and which sheets are cut together."""
    return section("Cut", _cut(pack), _BLADES)


def _cut(pack: PackContent) -> tuple[str, ...]:
    plan = pack.plan
    if plan.sheet_count == 1:
        return (f"Cut page {plan.first_sheet_page} on three sides. {_KNIFE} {_FLAP}",)
    mark = "Before you cut, pencil each sheet’s **label** and an arrow for its **top** on its back."
    steps = (f"{mark} {_KNIFE} {_FLAP}", *(_stacks(pack) if pack.stacked else (_all_unlike(pack),)))
    if pack.spec.seams.joint == "lap":
        return (*steps, "**Do not cut** along dashed lines: the strip beyond them is the lap.")
    return steps


def _stacks(pack: PackContent) -> tuple[str, ...]:
    """The settings of the cutter, stack by stack where they are few."""
    stacks = pack.plan.trim_stacks
    if len(stacks) > _MOST_STACKS:
        return (
            (
                f"The sheets make **{len(stacks)} trim stacks**. Those of one stack are cut at one "
                f"setting {_ALIKE}. Page 1 tells the largest; every sheet shows its own cuts."
            ),
        )
    unit = "in mm (inches)" if measures_for(pack.spec.sheet.format).inches else "in mm"
    how = (
        f"Sheets of one **trim stack** are cut at one setting {_ALIKE}; else each by its own. "
        f"From the paper’s edges, {unit}:"
    )
    return (how, *(_stack(number, stack, pack) for number, stack in enumerate(stacks)))


def _all_unlike(pack: PackContent) -> str:
    """Every piece is at the usable area's top left, so two of the four cuts are shared."""
    say, margins = (
        measures_for(pack.spec.sheet.format),
        [stack.margin_mm for stack in pack.plan.trim_stacks],
    )
    shared = f"All share **left {say.setting(margins[0]['left'])}**"
    heads = [margin["top"] for margin in margins if "top" in margin]
    if heads:
        shared += f" and, where the head is cut, **head {say.setting(heads[0])}**"
    return (
        f"No two sheets are cut alike. {shared} from the paper’s edges: cut those together "
        f"{_ALIKE}, then right and foot of each at its own lines."
    )


def _stack(number: int, stack: TrimStack, pack: PackContent) -> str:
    say, margin = measures_for(pack.spec.sheet.format), stack.margin_mm
    cuts = ", ".join(
        f"{name} **{say.setting(margin[edge])}**" for edge, name in _EDGES if edge in margin
    )
    return f"Stack **{stack_name(number)}**, {_stack_sheets(stack, pack)}: {cuts}."


def _stack_sheets(stack: TrimStack, pack: PackContent) -> str:
    text = label_list(pack.words, stack.labels, most=_MOST_PARTS)
    return f"{len(stack.labels)} sheets ({text})" if text.endswith("…") else text
