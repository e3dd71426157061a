"""Hooks left out: where a ruled line leaves its way for a moment, it goes straight on.

A peg below the eaves, a leaf or a stain beside an edge makes the reading's ridge bulge. The
stretches before it and after it are on one line, which a ruler does not leave.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Polylines
from worker.picture.outline.ruling.fitting import Stretches

#: What is between is so long at most, along the line and straight, and no longer than this part of
#: both stretches; these have one direction by this cosine.
_WAY_MM, _GAP_MM, _PART, _COSINE = 14.0, 9.0, 0.6, 0.985
#: Ends of stretches are no further from the line through both than this, and so many times as
#: near as they are known.
_OFF_MM, _OFF = 1.0, 1.2


def bridged(lines: Polylines, found: Stretches, near: Floats) -> Stretches:
    """Stretches of which those that are on one line are one.

    Args:
        lines: Of which they are.
        found: In the order of the lines.
        near: How near each place is known.
    """
    end, middle, way = found.end.copy(), found.middle.copy(), found.way.copy()
    kept = np.ones(len(found), np.bool_)
    # The stretches that are one with the last that is kept: hooks between them count for nothing.
    pieces: list[int] = []
    for two, follows in enumerate(_follows(lines, found).tolist()):
        some = np.array([*pieces, two])
        joint = _through(lines, found.taken(some), near) if follows else None
        if joint is None:
            pieces = [two]
            continue
        pieces.append(two)
        one = pieces[0]
        middle[one], way[one] = joint
        end[one] = found.end[two]
        kept[two] = False
    return Stretches(begin=found.begin, end=end, middle=middle, way=way).taken(kept)


def _follows(lines: Polylines, found: Stretches) -> Flags:
    """Which stretches may go on what is before them on their line."""
    along, owner, places = lines.along_mm, lines.owner, lines.places
    chord = places[found.end] - places[found.begin]
    length = np.hypot(*chord.T)
    way = found.way * np.where((found.way * chord).sum(axis=1) < 0, -1, 1)[:, None]
    over = along[found.begin[1:]] - along[found.end[:-1]]
    gap = np.hypot(*(places[found.begin[1:]] - places[found.end[:-1]]).T)
    good = (owner[found.end[:-1]] == owner[found.begin[1:]]) & (over < _WAY_MM) & (gap < _GAP_MM)
    good &= (way[:-1] * way[1:]).sum(axis=1) > _COSINE
    good &= over < _PART * (length[:-1] + length[1:])
    return np.concatenate((np.zeros(min(len(found), 1), np.bool_), good))


def _through(lines: Polylines, pieces: Stretches, near: Floats) -> tuple[Floats, Floats] | None:
    """The line through some stretches, if all lie on it."""
    ends = zip(pieces.begin, pieces.end, strict=True)
    at = np.concatenate([np.arange(begin, end + 1) for begin, end in ends])
    places = lines.places[at]
    middle = places.mean(axis=0)
    way = np.linalg.svd(places - middle, full_matrices=False)[2][0]
    rest = places - middle
    off = np.abs(rest[:, 1] * way[0] - rest[:, 0] * way[1])
    return (middle, way) if (off < np.maximum(_OFF_MM, _OFF * near[at])).all() else None
