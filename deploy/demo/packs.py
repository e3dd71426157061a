"""The demo's twelve packs: between them they print every kind of page.

Two programs look at them: `contact_sheets.py` beside this file, for eyes, and
`python -m tests.bench renderers`, which holds what renderers of PDF show against each other.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from pictures import LETTERING, SPEC, make, page_of

from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.spec.plan import Plan
from worker.spec.spec import Grid, Print, Seams, Sheet, Spec, Support, Tone

_A3 = Sheet(format="iso_a3_297x420mm")
_DARK = Support(width_mm=600, height_mm=400, tone="dark", medium="pastel")
PACKS: dict[str, Spec] = {
    "grey": SPEC,
    "colour": replace(SPEC, tone=Tone(style="colour")),
    "lines": replace(SPEC, tone=Tone(style="outline")),
    "mixed": replace(SPEC, tone=Tone(style="mixed")),
    "values": replace(SPEC, tone=Tone(style="values")),
    "mural": Spec(
        support=Support(width_mm=2600, height_mm=1300, medium="paint"),
        tone=Tone(style="outline"),
        sheet=_A3,
    ),
    "grid": replace(SPEC, grid=Grid(square_mm=50, diagonals=True)),
    "A5": Spec(support=Support(width_mm=210, height_mm=148, medium="graphite")),
    "mirrored": replace(SPEC, print=Print(mirror=True, black_only=True)),
    "lapped": replace(SPEC, seams=Seams(joint="lap", lap_mm=8)),
    "staggered": replace(SPEC, seams=Seams(arrangement="staggered", protect=(LETTERING,))),
    "dark": replace(SPEC, support=_DARK),
}
#: What its sheet is shown of, jug and pears, in shares of the picture.
_SHOWN = (0.45, 0.6)


@dataclass(frozen=True)
class MadePack:
    """A pack that was made.

    Attributes:
        name: As in `PACKS`.
        plan: Its plan.
        pdf: Its file.
    """

    name: str
    plan: Plan
    pdf: Path

    @property
    def kinds(self) -> dict[str, int]:
        """A page of each kind, by what it is."""
        plan = self.plan
        found = {"map": 1} if plan.map_pages else {}
        found |= {f"guide {count}": page for count, page in enumerate(plan.guide_pages, start=1)}
        if plan.grid.square_mm is not None:
            found |= {"grid": plan.first_grid_page, "support": plan.first_grid_page + 1}
        return found | {"sheet": page_of(plan, _SHOWN)}


def made(reference: Path, folder: Path) -> Iterator[MadePack]:
    """The twelve packs of a photograph, one after the other.

    Args:
        reference: The photograph.
        folder: Exists; takes their files.
    """
    with reference.open("rb") as source:
        study = take_in(source, folder, Limits()).study
    for name, spec in PACKS.items():
        pdf, plan = make(spec, study, folder)
        yield MadePack(name, plan, pdf.rename(folder / f"{name}.pdf"))
