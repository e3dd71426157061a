"""The guide's steps for a mirrored pack, which is laid face down on the support.

Its lines cannot be seen while they are transferred, so nothing is traced; what transfers is
drawn on the printed side beforehand. Both are common practice in studios.
"""

from __future__ import annotations

from worker.pages.guide.passes import lay_tones, pass_by_pass
from worker.pages.pack_content import PackContent
from worker.spec.spec import Tone


def prepare(pack: PackContent) -> tuple[str, ...]:
    """What the pack is for, and how its lines come to let go."""
    chalk = "**white chalk or pastel pencil**"
    medium = {
        "light": "a **soft pencil** (4B to 8B)",
        "mid": f"a **soft pencil** (4B to 8B) or {chalk}, whichever stands out on the support",
        "dark": chalk,
    }[pack.spec.support.tone]
    return (
        (
            "This pack is **mirrored**, for a method that transfers **face down**: the printed "
            "side touches the support, and the drawing comes out the right way round. For tracing "
            "through transfer paper make the pack without mirroring."
        ),
        (
            "Keep to the instructions of the method and its product sheet. Where the print lets "
            f"go of nothing by itself, go over {_what(pack.spec.tone)} on the printed side with "
            f"{medium}."
        ),
    )


def _what(tone: Tone) -> str:
    if tone.style == "values":
        return "the **borders** between the tones"
    return "its lines, the heavy ones first," if tone.lined else "the lines you want to keep"


def rub(pack: PackContent) -> tuple[str, ...]:
    """How the lines come off on the support."""
    tones = lay_tones(pack) if pack.spec.tone.style == "values" else ()
    return (
        (
            "Rub the **back** with a hard pencil or a burnisher, with **light to medium** "
            "pressure: a dent cannot be rubbed out. Try an outer corner first and lift to see "
            "what comes."
        ),
        *pass_by_pass(pack),
        *tones,
    )
