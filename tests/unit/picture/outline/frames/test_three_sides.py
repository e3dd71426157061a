"""Threes of segments: which there are, and that patterns have no more than can be looked at."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from worker.picture.outline.frames.three_sides import ThreeSides, three_sides
from worker.picture.outline.points.edge_points import CHROMA, DARK, EDGE, LIGHT
from worker.picture.outline.ruling.segments import Segments

#: A window, so that what is inside has positive cross products: it is the lighter side.
WINDOW = [(40.0, 30.0), (64.0, 30.0), (64.0, 70.0), (40.0, 70.0)]
#: More threes than these are a pattern; each is looked at, some seconds for a hundred thousand.
MOST = 5_000


def segments(ends: np.ndarray, kind: int) -> Segments:
    """Segments between ends, (segments, 2, 2) in mm."""
    return Segments(
        start=ends[:, 0],
        stop=ends[:, 1],
        levels=np.full(len(ends), 60.0),
        kind=np.full(len(ends), kind, np.uint8),
    )


def sides(corners: list[tuple[float, float]] = WINDOW) -> np.ndarray:
    return np.stack((np.array(corners), np.roll(corners, -1, axis=0)), axis=1)


def bars(long: float, pitch: float, many: int = 21) -> np.ndarray:
    """Bars across and upright, so many in each row and column, around places so far apart."""
    at = 100.0 + pitch * np.arange(many)
    middle = np.stack(np.meshgrid(at, at), axis=-1).reshape(-1, 1, 2)
    half = np.array(((-long / 2, 0.0), (long / 2, 0.0)))
    return np.concatenate((middle + half, middle + half[:, ::-1]))


def drawn(ends: np.ndarray) -> np.ndarray:
    return np.ones(len(ends), np.bool_)


def has_all(threes: ThreeSides, corners: list[tuple[float, float]] = WINDOW) -> bool:
    """Whether each side of a frame is between two corners of a three."""
    bases = {frozenset(map(tuple, pair)) for pair in np.stack((threes.one, threes.two), 1).round(6)}
    return {frozenset(map(tuple, pair)) for pair in sides(corners)} <= bases


def test_edges_are_of_frames_on_one_side() -> None:
    """Four sides are four threes, around light or, the other way round, around dark."""
    for ends, dark in ((sides(), False), (sides()[:, ::-1], True)):
        found = three_sides(segments(ends, EDGE), drawn(ends))
        assert found.dark.tolist() == [dark] * 4
        assert has_all(found)


@pytest.mark.parametrize("kind", [DARK, LIGHT, CHROMA])
def test_what_has_no_lighter_side_is_of_frames_on_both(kind: int) -> None:
    """Whichever way each side runs: thin lines, and edges in colour alone.

    Of edges with a lighter side only the three others are sides of one frame.
    """
    ends = sides()
    ends[1] = ends[1, ::-1]
    found = three_sides(segments(ends, kind), drawn(ends))
    assert found.dark.tolist() == [True] * 4 + [False] * 4
    for dark in (True, False):
        assert has_all(found.taken(found.dark == dark))
    assert three_sides(segments(ends, EDGE), drawn(ends)).dark.tolist() == [False]


@pytest.mark.parametrize(("long", "pitch"), [(60.0, 5.0), (14.0, 8.0)])
def test_a_grid_of_bars_has_no_more_threes_than_can_be_looked_at(long: float, pitch: float) -> None:
    """882 thin bars, each of which crosses many others: threes of them would be millions."""
    ends = bars(long, pitch)
    found = three_sides(segments(ends, DARK), drawn(ends))
    assert 0 < len(found) <= MOST
    again = three_sides(segments(ends, DARK), drawn(ends))
    assert np.array_equal(found.one, again.one)
    assert np.array_equal(found.two, again.two)


def test_threes_of_a_grid_are_not_put_together_before_they_are_left_out() -> None:
    """Those of 60 mm took 1.6 GB; what each turns into is bounded, so that they take a twentieth.

    Memory as numpy reports it to Python's tracemalloc, which does not depend on the machine.
    """
    ends = bars(60.0, 5.0)
    tracemalloc.start()
    three_sides(segments(ends, DARK), drawn(ends))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 80e6


def test_a_window_in_a_pattern_is_kept() -> None:
    """Its ends meet, where bars cross: so it comes first, though it is the last and shortest."""
    window = [(202.3, 203.1), (226.3, 203.1), (226.3, 243.1), (202.3, 243.1)]
    ends = np.concatenate((bars(60.0, 5.0), sides(window)))
    assert has_all(three_sides(segments(ends, DARK), drawn(ends)), window)


def test_two_of_three_sides_are_drawn_at_least() -> None:
    ends = sides()
    for undrawn, many in ((0, 4), (1, 4), (2, 2), (3, 0)):
        mine = np.arange(4) >= undrawn
        assert len(three_sides(segments(ends, EDGE), mine)) == many


def test_edges_that_are_not_drawn_push_out_none_that_are() -> None:
    """A thousand longer ones, far from a window."""
    y = 300.0 + 5.0 * np.arange(1000)
    longer = np.stack(((np.full(1000, 100.0), y), (np.full(1000, 150.0), y)), axis=0)
    ends = np.concatenate((longer.transpose(2, 0, 1), sides()))
    mine = np.arange(len(ends)) >= len(longer[0, 0])
    assert has_all(three_sides(segments(ends, EDGE), mine))
