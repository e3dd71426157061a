"""How ways are followed over maps."""

from __future__ import annotations

import numpy as np
import pytest

from worker.picture.outline.closing.tracking import FAR_MAP_PX, Tracks, tracked
from worker.spec.reading import Bytes

EAST = 0.0


def band(rows: int, columns: int, row: int, until: int) -> Bytes:
    """A map that has a band along a row, up to a column."""
    values = np.zeros((rows, columns), np.uint8)
    values[row - 1 : row + 2, :until] = (90,), (255,), (90,)
    return values


def ways(maps: list[Bytes], *starts: tuple[int, float, float]) -> Tracks:
    """Ways to the right, from a place of a map each."""
    number, x, y = zip(*starts, strict=True)
    heading = np.full(len(starts), EAST, np.float32)
    places = (np.array(each, np.float32) for each in (x, y))
    return tracked(maps, np.array(number), *places, heading)


def test_a_way_goes_on_as_long_as_the_map_has_something() -> None:
    found = ways([band(30, 40, 12, 18)], (0, 5.0, 12.0))
    assert found.steps[0] == pytest.approx(18 - 5, abs=1)
    assert np.abs(found.y[0, : 18 - 5] - 12).max() < 1
    assert found.likely[0, 5] > 0.9


def test_it_goes_no_further_than_it_may_or_than_the_map() -> None:
    long, narrow = band(30, 90, 12, 90), band(30, 20, 12, 20)
    found = ways([long, narrow], (0, 5.0, 12.0), (1, 5.0, 12.0))
    assert found.steps.tolist() == [FAR_MAP_PX, 14]


def test_ways_over_several_maps_are_those_over_each_alone() -> None:
    maps = [band(30, 40, 12, 18), band(17, 25, 9, 25), band(50, 33, 40, 20)]
    starts = [(0, 5.0, 12.4), (1, 3.0, 8.8), (2, 6.5, 40.2), (0, 9.0, 11.5)]
    whole = ways(maps, *starts)
    for way, (number, x, y) in enumerate(starts):
        alone = ways([maps[number]], (0, x, y))
        for name in ("x", "y", "likely", "steps"):
            assert (getattr(whole, name)[way] == getattr(alone, name)[0]).all()
