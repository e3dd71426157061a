"""What is missing of jaws, joined to what is there."""

from __future__ import annotations

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.jaws import Jaw
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points

#: A jaw is drawn where it is within so much of a line, in sides of the face; a gap is so long at
#: least, and its ends reach so far for the next line, ahead by this cosine.
_NEAR, _LEAST_LONG, _REACHES, _AHEAD = 0.01, 0.015, 0.04, 0.7
#: Another line runs beside it if all of a gap is nearer to lines than this, in lengths of the gap.
_BESIDE = 0.3
#: How clear a jaw is in a gap, at every place.
_SEEN = 0.4


def missing_jaws(jaws: tuple[Jaw, ...], points: Points, chains: Chains) -> list[Doubles]:
    """Parts of jaws that no line has, in pixels of the grid: (places, 2) each.

    Args:
        jaws: Those of faces.
        points: All points.
        chains: Lines that are drawn.
    """
    drawn = np.stack((points.x, points.y), axis=1)[chains.order].astype(np.float64)
    return [part for jaw in jaws for part in _missing(jaw, _near(jaw, drawn))]


def _near(jaw: Jaw, drawn: Doubles) -> Doubles:
    """What of lines is around a jaw."""
    far = _REACHES * jaw.side
    low, high = jaw.line.min(axis=0) - far, jaw.line.max(axis=0) + far
    return np.asarray(drawn[((drawn > low) & (drawn < high)).all(axis=1)])


def _missing(jaw: Jaw, drawn: Doubles) -> list[Doubles]:
    if not len(drawn):
        return []
    off = np.hypot(*np.moveaxis(jaw.line[:, None] - drawn, -1, 0))
    gap = (off.min(axis=1) > _NEAR * jaw.side) & (jaw.seen > _SEEN)
    change = np.flatnonzero(np.diff(gap.astype(np.int8), prepend=0, append=0))
    found = []
    for first, last in zip(change[::2], change[1::2], strict=True):
        line = jaw.line[first:last]
        long = float(np.hypot(*np.diff(line, axis=0).T).sum())
        if long < _LEAST_LONG * jaw.side or off[first:last].min(axis=1).max() < _BESIDE * long:
            continue
        ends = [
            _next(one, drawn, off[at], jaw.side)
            for one, at in ((line[::-1], first), (line, last - 1))
        ]
        if all(map(len, ends)):
            found.append(np.concatenate((ends[0], line, ends[1])))
    return found


def _next(line: Doubles, drawn: Doubles, off: Doubles, side: float) -> Doubles:
    """The nearest place of another line ahead of a line's end, if one is near: (0 or 1, 2)."""
    way = (line[-1] - line[-2]) / np.hypot(*(line[-1] - line[-2]))
    ahead = (drawn - line[-1]) @ way > _AHEAD * off
    far = np.where(ahead, off, np.inf)
    return drawn[[far.argmin()]] if far.min() < _REACHES * side else drawn[:0]
