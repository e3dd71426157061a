"""The guide's steps that tracing and rubbing have in common: the passes and the tones.

All of it is common practice in studios.
"""

from __future__ import annotations

from worker.pages.lengths import label_list
from worker.pages.pack_content import PackContent

#: As many passes as show the way their order runs.
_PASSES_TOLD = 4


def pass_by_pass(pack: PackContent) -> tuple[str, ...]:
    """In which order, so that a hand rests on nothing that is done."""
    return (
        _order(pack),
        (
            "Keep a clean slip sheet under the hand. Before you move on, **lift one corner** and "
            "look for what is missing; lift the hinge only at the very end."
        ),
    )


def _order(pack: PackContent) -> str:
    passes = pack.plan.passes
    if len(passes) == 1:
        return "Work from left to right; left-handed, from right to left."
    order = ", ".join(label_list(pack.words, turn.labels) for turn in passes[:_PASSES_TOLD])
    more = " …" if len(passes) > _PASSES_TOLD else ""
    lies = "as it lies face down, " if pack.spec.print.mirror else ""
    return (
        f"Work in **{len(passes)} passes**, sheet by sheet ({order}{more}): {lies}along each row "
        "**from left to right**, so that a right hand never rests on what is done. Left-handed: "
        "from right to left."
    )


def _page_of_key(pack: PackContent) -> str:
    """The map has the key of the tones; where there is none, the sheet's head strip."""
    return "page 1" if pack.plan.map_pages else f"page {pack.plan.first_sheet_page}"


def lay_tones(pack: PackContent) -> tuple[str, ...]:
    """How a picture in values goes on from the borders of its tones."""
    count = pack.spec.tone.values.count
    # On the sheets the lightest tone is bare paper, on a darker support it has to be laid.
    bare = pack.spec.support.tone == "light"
    lightest = "" if bare else f", **{count}** too, which the support does not give"
    return (
        (
            f"Number each patch on the support from the key on {_page_of_key(pack)}; **1** is the "
            "darkest."
        ),
        (
            f"Choose or mix the **{count} tones** before you begin and try them beside the "
            f"key{lightest}. Lay the large patches first, the darkest and the lightest last; "
            "squint to compare."
        ),
    )
