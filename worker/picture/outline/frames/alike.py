"""Frames that are alike: windows in a row or above each other, and panes of one window.

What is built repeats: windows of a storey have their lintels on one line and their sills on
another. Two frames that do, and are as wide, are no chance, so that less of either need be seen.
Where one has another in its row and one in its column, there is a fourth one more often than not.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints

#: Frames alike have so much of each other's size along the lines that they share, or so much if
#: they are next to each other as panes, with a gap of such a part of it; and so much across. They
#: are no further apart than so many times their size.
_ALONG, _ALONG_NEXT, _NEXT, _ACROSS, _APART = 0.7, 0.4, 0.35, 0.8, 2.0
#: They lie beside each other by so much of their size at least.
_BESIDE = 0.75
#: Their sides are on one line within so many mm.
_OFF_MM = 0.9


def alike(corners: Floats) -> Flags:
    """Which frames have another one like them in their row or column.

    Args:
        corners: In mm of the picture, in one sense of rotation; (frames, 4, 2).
    """
    if not len(corners):
        return np.zeros(0, np.bool_)
    rows, columns = _mates(from_top_left(corners))
    return np.asarray((rows | columns).any(axis=1))


def fourths(corners: Floats) -> tuple[Floats, Ints]:
    """Where a fourth frame would be beside three: between lines of the first and of the last.

    Args:
        corners: As above.

    Returns:
        Their corners, and the frames in whose columns they are.
    """
    if not len(corners):
        return corners, np.zeros(0, np.int64)
    upright = from_top_left(corners)
    rows, columns = _mates(upright)
    # Of each frame all pairs of one in its row and one in its column.
    middle, of_row = np.nonzero(rows)
    pair, of_column = np.nonzero(columns[middle])
    column, row = upright[of_row[pair]], upright[of_column]
    start, way = row[:, (0, 2)], row[:, (1, 3)] - row[:, (0, 2)]
    # Top and bottom of one, with the sides of the other: left, right; right, left.
    sides = ((0, 3), (0, 1), (1, 1), (1, 3))
    found = [
        _crossing(start[:, at], way[:, at], column[:, side], column[:, (side + 1) % 4])
        for at, side in sides
    ]
    return np.stack(found, axis=1), of_row[pair]


def _crossing(start: Floats, way: Floats, one: Floats, two: Floats) -> Floats:
    """Where lines along ways cross those from ones to twos."""
    other = two - one
    sine = way[:, 0] * other[:, 1] - way[:, 1] * other[:, 0]
    rest = one - start
    far = (rest[:, 0] * other[:, 1] - rest[:, 1] * other[:, 0]) / np.where(sine == 0, 1, sine)
    return np.asarray(start + far[:, None] * way)


def _mates(upright: Floats) -> tuple[Flags, Flags]:
    """Pairs in one row, and in one column."""
    return _in_row(upright), _in_row(np.roll(upright, -1, axis=1))


def from_top_left(corners: Floats) -> Floats:
    """Frames from the corner that is furthest up and to the left."""
    first = corners.sum(axis=2).argmin(axis=1)
    at = (first[:, None] + np.arange(4)) % 4
    return np.asarray(corners[np.arange(len(corners))[:, None], at])


def _in_row(corners: Floats) -> Flags:
    """Pairs whose first and third sides lie on two lines: (frames, frames)."""
    side = np.roll(corners, -1, axis=1) - corners
    length = np.hypot(side[..., 0], side[..., 1])
    along, across = (length[:, at] + length[:, at + 2] for at in (0, 1))
    middle = corners.mean(axis=1)
    apart = middle - middle[:, None]
    far = np.hypot(apart[..., 0], apart[..., 1])
    size = along / 2
    beside = far - (size + size[:, None]) / 2 < _NEXT * np.minimum(size, size[:, None])
    good = _ratio(along) > np.where(beside, _ALONG_NEXT, _ALONG)
    good &= _ratio(across) > _ACROSS
    mean = (size + size[:, None]) / 2
    good &= (far > _BESIDE * mean) & (far < _APART * np.maximum(mean, (across / 2)[:, None]))
    for at in (0, 2):
        # From the middle of one side to that of the other, which both lie along.
        middle = corners[:, at] + side[:, at] / 2
        way = middle - middle[:, None]
        way /= np.maximum(np.hypot(way[..., 0], way[..., 1]), 1e-9)[..., None]
        x, y = side[:, at, 0, None], side[:, at, 1, None]
        off = np.abs(x * way[..., 1] - y * way[..., 0]) / 2
        good &= np.maximum(off, off.T) < _OFF_MM
    return np.asarray(good)


def _ratio(size: Floats) -> Floats:
    least = np.minimum(size, size[:, None])
    return np.asarray(least / np.maximum(np.maximum(size, size[:, None]), 1e-9))
