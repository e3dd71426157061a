"""Which sections the guide of a pack has."""

from collections.abc import Callable
from dataclasses import replace

from tests.folded import fold
from worker.pages.section import Section
from worker.spec.spec import Print, Seams, Spec, Support, Tone

SIX = Spec(support=Support(width_mm=600, height_mm=400))
ONE = Spec(support=Support(width_mm=148, height_mm=210))
WALL = Spec(support=Support(width_mm=3000, height_mm=2000))
MIRRORED = replace(SIX, print=Print(mirror=True))
ON_A_TABLE = ["Print", "Cut", "Join", "Check", "Hinge", "Transfer", "Trace", "Begin"]
FACE_DOWN = ["Print", "Cut", "Join", "Check", "Prepare", "Hinge", "Rub", "Begin"]
ON_A_WALL = ["Print", "Cut", "Join", "Check", "Set out", "Prick", "Pounce", "Take care"]


@fold(
    (
        "spec, titles",
        [
            (SIX, ON_A_TABLE),
            (ONE, ["Print", "Cut", "Hinge", "Transfer", "Trace", "Begin"]),
            (MIRRORED, FACE_DOWN),
            (WALL, ON_A_WALL),
            (replace(WALL, tone=Tone(style="values")), [*ON_A_WALL[:-1], "Begin", "Take care"]),
        ],
    )
)
def test_a_pack_has_the_sections_that_it_needs(
    sections: Callable[[Spec], dict[str, Section]], spec: Spec, titles: list[str]
) -> None:
    assert list(sections(spec)) == titles


@fold(
    (
        "spec, never",
        [
            # One sheet is neither joined nor laid anew, and has one place on each side.
            (ONE, ["1·1 top left", "seam", "Tack", "diagonal", "stack", "strips", "row 1"]),
            # Nobody counts a hundred placings or four hundred pieces of tape, or has such a table.
            (
                WALL,
                ["pass", "bits", "pieces of tape", "table", "hinge", "transfer paper"],
            ),
            # Lines that lie face down are not seen, so nothing is traced.
            (MIRRORED, ["ballpoint", "Slide it", "Trace ", "matt tape"]),
            (replace(SIX, seams=Seams(joint="lap", lap_mm=8)), ["Tack", "on the back with thin"]),
            (SIX, ["pastel", "Fixative", "Solvents", "Ladder", "canvas", "mirrored", "glue"]),
        ],
    )
)
def test_nothing_is_said_that_this_pack_does_not_need(
    said: Callable[[Spec], str], spec: Spec, never: list[str]
) -> None:
    assert [word for word in never if word in said(spec)] == []


def test_conditions_are_notes_and_only_what_is_done_is_ticked(
    sections: Callable[[Spec], dict[str, Section]],
) -> None:
    for spec in (SIX, MIRRORED, WALL, ONE):
        ticked = [step.text for one in sections(spec).values() for step in one.steps if step.ticked]
        assert [text for text in ticked if text.startswith(("From 9", "One is", "All off"))] == []
        assert [text for text in ticked if text.startswith(("No transfer", "Or", "Where"))] == []
