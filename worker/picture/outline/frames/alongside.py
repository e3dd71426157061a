"""Which edges lines are drawn along: a frame is of such, and most edges of a roof's tiles are not.

Threes of edges are many where there is a pattern, and each is looked at closely. So what could be
no frame that is drawn is left out before.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, courses
from worker.picture.outline.ruling.segments import Segments

#: Places are painted into squares of this side, and those around, by their course in so many
#: directions of a half turn and those beside; over so many mm to either side.
_SQUARE_MM, _DIRECTIONS, _COURSE_MM = 2.5, 8, 1.5
#: Lines are drawn along a segment if there are some at this part of so many places of it.
_SHARE, _LOOKED = 0.3, 8


def drawn_along(segments: Segments, lines: Polylines, built: Flags) -> Flags:
    """Which segments have a line along them.

    Args:
        segments: Edges of the picture.
        lines: Those that are drawn.
        built: Which of them are of what is built.
    """
    mine = built[lines.owner]
    at, turn = _squares(lines.places[mine]), _directions(courses(lines, _COURSE_MM)[mine])
    share = (np.arange(_LOOKED) + 0.5)[:, None] / _LOOKED
    looked = segments.start[:, None] + share * (segments.stop - segments.start)[:, None]
    there = _squares(looked)
    size = np.maximum(at.max(axis=0, initial=0), there.max(axis=(0, 1), initial=0)) + 2
    painted = np.zeros((_DIRECTIONS, *size), np.bool_)
    painted[turn, at[:, 0], at[:, 1]] = True
    painted |= np.roll(painted, 1, axis=0) | np.roll(painted, -1, axis=0)
    for axis in (1, 2):
        painted |= np.roll(painted, 1, axis=axis) | np.roll(painted, -1, axis=axis)
    way = _directions(segments.stop - segments.start)[:, None]
    return np.asarray(painted[way, there[..., 0], there[..., 1]].mean(axis=1) > _SHARE)


def _squares(places: Floats) -> Ints:
    # One more around the picture, as squares are painted beside.
    return np.asarray(np.floor(np.maximum(places, 0) / _SQUARE_MM).astype(np.int64) + 1)


def _directions(way: Floats) -> Ints:
    share = np.arctan2(way[:, 1], way[:, 0]) / np.pi
    return np.asarray(np.floor(share * _DIRECTIONS).astype(np.int64) % _DIRECTIONS)
