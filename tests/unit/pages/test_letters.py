"""Letters print as letters on any printer: black, or in the one accent where colour is used.

A laser printer makes dots of grey, some 106 to the inch (common practice): the stem of a letter of
seven points is one dot wide, and frays.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from worker.spec.spec import Grid, Print, Seams, Spec, Support, Tone

BLACK, WHITE = (0.0,), (1.0,)


def inks_of_letters(path: Path, page: int) -> set[tuple[float, ...]]:
    """With which inks a page shows text."""
    fill, kept, found = BLACK, [], set()
    with pikepdf.open(path) as pdf:
        for step in pikepdf.parse_content_stream(pdf.pages[page - 1]):
            name = str(step.operator)
            if name in {"g", "rg"}:
                numbers = tuple(float(one) for one in step.operands)
                fill = numbers[:1] if len(set(numbers)) == 1 else numbers
            elif name == "q":
                kept.append(fill)
            elif name == "Q":
                fill = kept.pop()
            elif name in {"Tj", "TJ"}:
                found.add(fill)
    return found


@pytest.mark.parametrize("black_only", [False, True])
def test_letters_are_black_or_of_the_one_accent(
    make: Callable[..., Any], *, black_only: bool
) -> None:
    spec = Spec(
        support=Support(width_mm=300, height_mm=200),
        tone=Tone(style="values"),
        seams=Seams(joint="lap", lap_mm=8),
        grid=Grid(square_mm=50),
        print=Print(black_only=black_only),
    )
    made = make(spec, small=True)
    found = [inks_of_letters(made.path, page) for page in range(1, 1 + made.plan.page_count)]
    first = made.plan.first_sheet_page - 1
    assert all(BLACK in inks for inks in found)
    # Sheets in grey have no other ink in either.
    printed_grey = found if black_only else found[first:]
    assert set().union(*printed_grey) <= {BLACK, WHITE}
    assert len(set().union(*found[:first]) - {BLACK, WHITE}) == (0 if black_only else 1)
