"""Cautions come with the medium and the job, and defer."""

from collections.abc import Callable

from tests.folded import fold
from worker.spec.spec import Medium, Spec, Support

DEFERS = "Local rules, the maker’s safety sheet and people trained in the work come before"
#: What each may say; what is missing in a list is not said.
CAUTIONS = ("Dust of pastel", "Fixative spray", "Solvents", "Ladder", "Powder")


@fold(
    (
        "medium, width_mm, given",
        [
            ("other", 600, set()),
            ("graphite", 600, {"Fixative spray"}),
            ("coloured-pencil", 600, {"Fixative spray"}),
            ("pastel", 600, {"Dust of pastel", "Fixative spray"}),
            ("paint", 600, {"Solvents"}),
            ("paint", 3000, {"Solvents", "Ladder", "Powder"}),
            ("other", 3000, {"Ladder", "Powder"}),
        ],
    )
)
def test_cautions_come_with_what_is_done(
    said: Callable[[Spec], str], medium: Medium, width_mm: float, given: set[str]
) -> None:
    text = said(Spec(support=Support(width_mm=width_mm, height_mm=400, medium=medium)))
    assert {caution for caution in CAUTIONS if caution in text} == given
    assert "Blades" in text
    assert text.count(DEFERS) == 1
