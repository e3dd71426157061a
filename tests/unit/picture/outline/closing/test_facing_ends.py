"""Ends that face each other: which are joined, and how much is looked at for it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.unit.picture.outline.closing.test_missing_outlines import GAP_MM, halves, read
from tests.unit.picture.outline.contours.test_contour_lines import MAP, placed
from tests.unit.picture.outline.given_lines import along
from tests.unit.picture.outline.lines import Floats
from worker.picture.outline.closing import way_strips
from worker.picture.outline.closing.facing_ends import facing_ends
from worker.picture.outline.closing.painted_lines import PaintedLines
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.polylines import Polylines
from worker.reading.best_paths import best_path
from worker.spec.reading import Reading


def painted(seen: Reading, lines: Polylines) -> PaintedLines:
    """Lines in mm over a reading."""
    x, y = (lines.places / 0.25 - 0.5).astype(np.float32).T
    chains = Chains(order=np.arange(len(x)), first=lines.first, closed=lines.closed)
    return PaintedLines.on(placed(seen).layers[0], chains, x, y)


def ways_between(seen: Reading, *ways: Floats) -> int:
    """How many ways there are between all ends of lines."""
    lines = Polylines.of(ways)
    ends = np.concatenate((lines.first[:-1], lines.first[1:] - 1))
    return len(facing_ends(placed(seen), painted(seen, lines), ends).end)


def test_ends_that_look_away_from_each_other_are_not_joined() -> None:
    one, two = halves()
    assert ways_between(read(), one, two) == 1
    other = along((two[0][0], GAP_MM[1]), (110.0, GAP_MM[1]))
    assert ways_between(read(), one, other) == 0


@pytest.mark.parametrize(
    "seen",
    [
        read(faint=0.3),
        read(left=230),
        read(right=120),
        replace(read(), outer=np.zeros(MAP, np.uint8)),
    ],
    ids=["not read", "inside", "behind", "no border"],
)
def test_what_bounds_no_subject_or_is_hardly_read_stays_open(seen: Reading) -> None:
    assert ways_between(seen, *halves()) == 0


def fringes(many: int, monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many strips there are at a time between two fringes of so many lines over a gap."""
    counted = list[int]()

    def path(worth: Any, costs: Any) -> Any:
        counted.append(len(worth))
        return best_path(worth, costs)

    monkeypatch.setattr(way_strips, "best_path", path)
    across = np.linspace(20, 130, many)
    upper = [along((x, 10.0), (x, 45.0)) for x in across]
    ways_between(read(left=230), *upper, *(along((x, 65.0), (x, 105.0)) for x in across))
    return counted


def test_work_grows_with_the_number_of_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not with that of their pairs, and at no time with more than so much memory."""
    few, many = fringes(100, monkeypatch), fringes(200, monkeypatch)
    assert sum(many) < 2.2 * sum(few)
    assert len(many) > 1
    assert max(many) <= 500
