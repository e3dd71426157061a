"""What turns aside at the ends of lines, on lines that are given."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.given_lines import PITCH_MM, points_along
from worker.picture.outline.line_ends import without_hooks
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import CONTOUR, Points


def bent(long_mm: float, end_mm: float, turn: float) -> tuple[Points, Chains]:
    """A level line whose last millimetres turn by so many degrees."""
    places = round(long_mm / PITCH_MM) + 1
    turns = np.where(np.arange(places) > places - 1 - end_mm / PITCH_MM, np.radians(turn), 0.0)
    steps = np.stack((np.cos(turns), np.sin(turns)), axis=1)
    across = np.stack((-steps[:, 1], steps[:, 0]), axis=1)
    return points_along(np.cumsum(steps, axis=0), across, [places])


def read_at_its_end(points: Points, end_mm: float) -> Points:
    """The same where only the map has the end."""
    kind = points.kind.copy()
    kind[-round(end_mm / PITCH_MM) :] = CONTOUR
    return replace(points, kind=kind)


def cut_mm(points: Points, chains: Chains) -> float:
    """How much of it is left out."""
    return (len(chains.order) - len(without_hooks(points, chains, PITCH_MM).order)) * PITCH_MM


@pytest.mark.parametrize("long_mm", [8.0, 40.0])
def test_a_hook_is_left_out_of_long_lines_and_short_ones(long_mm: float) -> None:
    assert cut_mm(*bent(long_mm, 1.0, 80.0)) == pytest.approx(1.0, abs=PITCH_MM)
    assert cut_mm(*bent(long_mm, 1.0, 10.0)) == 0


def test_a_line_ends_where_its_edge_ends_if_the_map_turns_round_its_tip() -> None:
    points, chains = bent(40.0, 1.5, 20.0)
    assert cut_mm(points, chains) == 0
    assert cut_mm(read_at_its_end(points, 1.5), chains) == pytest.approx(1.5, abs=PITCH_MM)
    # What goes straight on is of the line, and so is what only the map has of more of it.
    straight, same = bent(40.0, 1.5, 5.0)
    assert cut_mm(read_at_its_end(straight, 1.5), same) == 0
    assert cut_mm(read_at_its_end(points, 6.0), chains) == 0
