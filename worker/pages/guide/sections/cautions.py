"""The guide's cautions, only where the medium or the job brings them.

They are what makers' safety sheets and studio rules commonly say (common practice), and defer to
both.
"""

from __future__ import annotations

from worker.pages.pack_content import PackContent
from worker.pages.section import Section, section
from worker.spec.spec import Medium

#: What each medium brings; blades, which every pack brings, are with the cutting.
_BROUGHT: dict[Medium, tuple[str, ...]] = {
    "graphite": ("fixative",),
    "coloured-pencil": ("fixative",),
    "pastel": ("dust", "fixative"),
    "paint": ("solvents",),
    "other": (),
}
_ON_A_WALL = ("ladder", "powder")


def cautions(pack: PackContent) -> Section | None:
    """What to take care of, and what comes before this guide; None: nothing."""
    brought = _brought(pack)
    if not brought:
        return None
    words = pack.words
    notes = (words(f"guide.care.{one}") for one in brought)
    return section(words("guide.section.care"), (), *notes, words("guide.cut.first"))


def comes_first(pack: PackContent) -> tuple[str, ...]:
    """What comes before this guide, said once: with the blades where there is nothing else."""
    return () if _brought(pack) else (pack.words("guide.cut.first"),)


def _brought(pack: PackContent) -> tuple[str, ...]:
    return _BROUGHT[pack.spec.support.medium] + (_ON_A_WALL if pack.plan.on_wall else ())
