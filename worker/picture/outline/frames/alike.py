"""Frames that are alike: windows in a row or above each other, and panes of one window.

What is built repeats: windows of a storey have their lintels on one line and their sills on
another. Two frames that do, and are as wide, are no chance, so that less of either need be seen.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.polylines import Flags, Floats

#: Frames alike have so much of each other's size along the lines that they share, and across,
#: which changes in perspective; and are no further apart than so many times their size.
_ALONG, _ACROSS, _APART = 0.7, 0.8, 4.0
#: They lie beside each other by so much of their size at least.
_BESIDE = 0.75
#: Their sides are on one line within so many mm, and so many more for each mm between.
_OFF_MM, _OFF = 0.8, 0.05


def alike(corners: Floats) -> Flags:
    """Which frames have another one like them in their row or column.

    Args:
        corners: In mm of the picture, in one sense of rotation; (frames, 4, 2).
    """
    if not len(corners):
        return np.zeros(0, np.bool_)
    upright = _from_top_left(corners)
    rows = _in_row(upright)
    columns = _in_row(np.roll(upright, -1, axis=1))
    return np.asarray((rows | columns).any(axis=1))


def _from_top_left(corners: Floats) -> Floats:
    """Frames from the corner that is furthest up and to the left."""
    first = corners.sum(axis=2).argmin(axis=1)
    at = (first[:, None] + np.arange(4)) % 4
    return corners[np.arange(len(corners))[:, None], at]


def _in_row(corners: Floats) -> Flags:
    """Pairs whose first and third sides lie on two lines: (frames, frames)."""
    side = np.roll(corners, -1, axis=1) - corners
    length = np.hypot(side[..., 0], side[..., 1])
    along, across = (length[:, at] + length[:, at + 2] for at in (0, 1))
    middle = corners.mean(axis=1)
    apart = middle - middle[:, None]
    far = np.hypot(apart[..., 0], apart[..., 1])
    good = _ratio(along) > _ALONG
    good &= _ratio(across) > _ACROSS
    mean = (along + along[:, None]) / 4
    good &= (far > _BESIDE * mean) & (far < _APART * np.maximum(mean, (across / 2)[:, None]))
    for at in (0, 2):
        way = (side[:, at] / np.maximum(length[:, at, None], 1e-9))[:, None, None]
        rest = corners[None, :, [at, at + 1]] - corners[:, None, None, at]
        off = np.abs(rest[..., 0] * way[..., 1] - rest[..., 1] * way[..., 0]).max(axis=2)
        good &= off < _OFF_MM + _OFF * far
    return np.asarray(good & good.T)


def _ratio(size: Floats) -> Floats:
    least = np.minimum(size, size[:, None])
    return np.asarray(least / np.maximum(np.maximum(size, size[:, None]), 1e-9))
