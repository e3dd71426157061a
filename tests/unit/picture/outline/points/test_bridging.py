"""Lines joined across gaps."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from tests.unit.picture.outline.given_lines import PITCH_MM, along, lines_of
from worker.picture.outline.points.bridging import joined_chains
from worker.picture.outline.points.chains import Chains

Floats = npt.NDArray[np.float32]


def everywhere(x: Floats, _: Floats) -> Floats:
    """A line is seen at all places."""
    return np.ones_like(x)


def joined(*ways: np.ndarray) -> tuple[Chains, npt.NDArray[np.int64]]:
    """Lines joined over up to 12 mm, and the line before of each place."""
    points, lines = lines_of(*ways)
    return joined_chains(points, lines.chains, reach_px=12 / PITCH_MM, seen=everywhere, back=10)


def test_a_line_that_is_seen_to_go_on_is_one() -> None:
    chains, before = joined(along((0, 0), (40, 0)), along((49, 0.5), (90, 1)))
    assert len(chains) == 1
    # Its places are those of both, in order.
    assert len(chains.order) == len(before)
    assert np.abs(np.diff(before)).sum() == 1


def test_what_is_not_seen_to_go_on_are_two() -> None:
    # Both ends are seen, the gap is not.
    points, lines = lines_of(along((0, 0), (40, 0)), along((49, 0.5), (90, 1)))

    def ends(x: Floats, _: Floats) -> Floats:
        gap = (x * PITCH_MM > 41) & (x * PITCH_MM < 48)
        return np.where(gap, np.float32(0.1), np.float32(0.8))

    chains, _ = joined_chains(points, lines.chains, reach_px=12 / PITCH_MM, seen=ends, back=10)
    assert len(chains) == 2


def test_a_line_beside_and_one_that_turns_away_are_others() -> None:
    assert len(joined(along((0, 0), (40, 0)), along((46, 8), (90, 8)))[0]) == 2
    assert len(joined(along((0, 0), (40, 0)), along((46, 2), (46, 60)))[0]) == 2


def test_a_ring_stays_closed() -> None:
    angle = np.linspace(0, 2 * np.pi, 100)
    ring = 10 * np.stack((np.cos(angle), np.sin(angle)), axis=1)
    points, lines = lines_of(ring, along((30, 0), (60, 0)))
    own = Chains(
        order=np.concatenate((np.arange(99), [0], lines.chains.order[100:])),
        first=lines.chains.first,
        closed=np.array([True, False]),
    )
    chains, before = joined_chains(points, own, reach_px=12 / PITCH_MM, seen=everywhere)
    assert chains.closed.tolist() == [True, False]
    assert chains.counts.tolist() == own.counts.tolist()
    assert chains.order[chains.first[0]] == chains.order[chains.first[1] - 1]
    assert set(before[: chains.first[1]]) == {0}
