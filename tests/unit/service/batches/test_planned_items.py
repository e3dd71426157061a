"""Who is meant by what a table or a course site writes for a student."""

from __future__ import annotations

import pytest

from service.batches.planned_items import meant_by
from worker.store.ledger import StudentRow

NAMES = ["Müller, Jürgen", "Müller Jürgen", "müller jürgen", "Jürgen Muller", "Ada", "Ada", "Zoë"]
ROSTER = [
    StudentRow(
        id=f"stu_{place}",
        class_id="cls_1",
        name=name,
        position=place,
        joined=False,
        withdrawn_at=None,
        created_at=0.0,
    )
    for place, name in enumerate(NAMES)
]


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("stu_3", [3]),
        ("Müller, Jürgen", [0]),
        ("Müller Jürgen", [1]),
        ("  Mu\u0308ller   Jürgen ", [1]),
        ("müller jürgen", [2]),
        ("MÜLLER, JÜRGEN", [0]),
        # Without case two are left, and nothing says which.
        ("MÜLLER JÜRGEN", [1, 2]),
        ("Muller Jurgen", [0, 1, 2, 3]),
        ("Ada", [4, 5]),
        ("Zoe", [6]),
        ("Ben", []),
        ("stu_9", []),
    ],
)
def test_the_closest_spelling_decides(written: str, meant: list[int]) -> None:
    assert meant_by(written, ROSTER) == [ROSTER[place] for place in meant]
