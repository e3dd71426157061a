"""Of ways that may close outer contours, those that are drawn."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.closing.test_facing_ends import painted
from tests.unit.picture.outline.closing.test_missing_outlines import GAP_MM, halves, read
from tests.unit.picture.outline.contours.test_contour_lines import MAP_MM
from tests.unit.picture.outline.given_lines import along
from tests.unit.picture.outline.lines import Floats
from worker.picture.outline.closing.outer_ways import OuterWays
from worker.picture.outline.polylines import Polylines


def upright(*lines: tuple[int, int, float]) -> OuterWays:
    """Ways down a map from and to places, so far across, the first of them the likeliest."""
    end, met, across = (np.array(each) for each in zip(*lines, strict=True))
    low, high = np.divide(GAP_MM, MAP_MM) - 0.5
    way = across[:, None] + 1j * np.linspace(low, high, 48)
    return OuterWays(end=end, met=met, likely=np.linspace(0.9, 0.6, len(end)), way=way)


@pytest.mark.parametrize(
    ("other", "many"),
    [
        (along((20.0, 20.0), (20.0, 100.0)), 1),
        (along((40.0, 57.0), (100.0, 57.0)), 0),
        (along((72.0, GAP_MM[0] - 3), (72.0, GAP_MM[1] + 3)), 0),
    ],
    ids=["elsewhere", "across", "beside"],
)
def test_a_way_crosses_no_line_and_runs_beside_none(other: Floats, many: int) -> None:
    lines = painted(read(), Polylines.of([*halves(), other]))
    ways = upright((len(halves()[0]) - 1, len(halves()[0]), 70.0 / MAP_MM - 0.5))
    assert len(ways.apart(lines).end) == many


def test_each_end_is_joined_once() -> None:
    ways = upright((1, 2, 50.0), (1, 3, 70.0), (4, 2, 90.0), (4, 3, 110.0))
    assert ways.chosen().end.tolist() == [1, 4]


@pytest.mark.parametrize(("apart_px", "many"), [(3.0, 1), (7.0, 2)])
def test_no_way_runs_next_to_another(apart_px: float, many: int) -> None:
    assert len(upright((1, 2, 50.0), (3, 4, 50.0 + apart_px)).chosen().end) == many
