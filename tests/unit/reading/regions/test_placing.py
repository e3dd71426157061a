"""Lines moved onto edges of maps made for it."""

from __future__ import annotations

import numpy as np
import pytest

from worker.reading.regions.placing import placed

SHAPE = (120, 160)
NOTHING = np.zeros(SHAPE, np.float32)


def band(
    far: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
    return np.asarray(np.exp(-(far**2) / 4), np.float32)


@pytest.mark.parametrize("by", ["contour", "slope"])
def test_a_line_goes_where_the_edge_is(by: str) -> None:
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    seen = band(y - 60 - 4 * np.sin(x / 15))
    line = np.array([[10.0, 61.0], [150.0, 59.0]])
    maps = (seen, NOTHING) if by == "contour" else (NOTHING, seen)
    places = placed([line], *maps).places
    inner = places[3:-3]
    assert np.abs(inner[:, 1] - 60 - 4 * np.sin(inner[:, 0] / 15)).max() < 1.2


def test_lines_of_any_length_are_placed_as_each_alone() -> None:
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    seen = band(y - 60 - 4 * np.sin(x / 15))
    lines = [np.array([[x, 58.0], [x + far, 61.0]]) for x, far in ((10, 4), (20, 90), (120, 30))]
    together = placed(lines, seen, NOTHING)
    for number, line in enumerate(lines):
        alone = placed([line], seen, NOTHING).places
        part = together.places[together.first[number] : together.first[number + 1]]
        assert part == pytest.approx(alone)


def test_where_nothing_is_seen_a_line_stays() -> None:
    line = np.array([[10.0, 61.0], [150.0, 59.0]])
    places = placed([line], NOTHING, NOTHING).places
    assert np.abs(places[:, 1] - np.interp(places[:, 0], *line.T)).max() < 0.1
