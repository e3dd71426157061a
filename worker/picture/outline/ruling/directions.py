"""Directions repeat in what is built: those of straight lines around tell more of a line.

What has the direction of others may be ruled on less evidence. And what goes over from one edge of
a frame to the other, because the reading lies between them, has the direction of neither: it gets
that of the lines around.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Polylines
from worker.picture.outline.ruling.fitting import Stretches

#: Lines around are within so many mm, and there are so many mm of them of one direction: within
#: this sine.
_AROUND_MM, _LEAST_MM, _ALIKE_SINE = 80.0, 40.0, 0.05
#: Stretches are turned up to this sine, in so many steps to either side, and no end by more than
#: so many times as near as it is known.
_MOST_SINE, _STEPS, _MOVED = 0.18, 9, 3.0


def alike(lines: Polylines, others: Stretches, middle: Floats, way: Floats) -> Flags:
    """Which lines have the direction of others around.

    Args:
        lines: All of them.
        others: Stretches of them that are ruled.
        middle: Places; (places, 2).
        way: Directions there.
    """
    sine, length = _around(lines, others, middle, way)
    return np.asarray(((np.abs(sine) < _ALIKE_SINE) * length).sum(axis=1) > _LEAST_MM)


def parallel_mm(lines: Polylines, stretches: Stretches) -> Floats:
    """How many mm of others around each have its direction."""
    sine, length = _around(lines, stretches, stretches.middle, stretches.way)
    same = np.abs(sine) < _ALIKE_SINE
    np.fill_diagonal(same, val=False)
    return np.asarray((same * length).sum(axis=1))


def turned(lines: Polylines, stretches: Stretches, others: Stretches, near: Floats) -> Stretches:
    """Stretches in the direction that most others have around, if hardly one has theirs.

    Args:
        lines: All of them.
        stretches: Those that fray.
        others: Those that are straight by themselves.
        near: How near each place is known.
    """
    sine, length = _around(lines, others, stretches.middle, stretches.way)
    step = np.rint(sine / _MOST_SINE * _STEPS).astype(np.int64)
    one, two = np.nonzero((np.abs(step) <= _STEPS) & (length > 0))
    support = np.zeros((len(stretches), 2 * _STEPS + 3))
    np.add.at(support, (one, step[one, two] + _STEPS + 1), length[one, two])
    support = support[:, 1:-1] + (support[:, :-2] + support[:, 2:]) / 2
    turn = (support.argmax(axis=1) - _STEPS) / _STEPS * _MOST_SINE
    moved = np.abs(turn) * stretches.lengths_mm(lines) / 2
    good = (support.max(axis=1) > _LEAST_MM) & (support[:, _STEPS] < _LEAST_MM)
    good &= moved < _MOVED * np.sqrt(near[stretches.begin] * near[stretches.end])
    turn = np.where(good, turn, 0.0)
    cosine, (x, y) = np.sqrt(1 - turn * turn), stretches.way.T
    return replace(stretches, way=np.stack((x * cosine - y * turn, y * cosine + x * turn), axis=1))


def _around(
    lines: Polylines, others: Stretches, middle: Floats, way: Floats
) -> tuple[Floats, Floats]:
    """The sine from each direction to those of others, and their lengths, or 0 if far away."""
    sine = way[:, :1] * others.way[:, 1] - way[:, 1:] * others.way[:, 0]
    sine *= np.sign(way @ others.way.T)
    far = np.hypot(*(middle.T[:, :, None] - others.middle.T[:, None]))
    return sine, np.where(far < _AROUND_MM, others.lengths_mm(lines), 0.0)
