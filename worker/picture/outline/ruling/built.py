"""Where things are built: much of the line there is straight by itself.

Bricks and tiles fray the edges of a house, which is ruled all the same, and a knuckle as far from
straight is none. In a picture of which enough is straight, all is built. In another there may be
a house among trees, or blinds behind people: there what is straight runs upright or level. Petals
and whiskers are straight too, but fan out, where walls, sills and boards have others parallel to
them; and a wood's trunks have one direction only.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.gaussian import box_mean
from worker.picture.outline.polylines import Flags, Floats, Polylines
from worker.picture.outline.ruling.directions import parallel_mm
from worker.picture.outline.ruling.fitting import Stretches

#: All is built where more than this part of the picture's line is straight, with so many mm
#: besides that are not, and hardly more than this of that in one direction;
_MUCH, _FEW_MM, _ONE_WAY = 0.12, 2500.0, 0.88
#: what is straight counts this much, and once more where so many mm of others run parallel to it;
_PARALLEL_MM, _ALONE = 80.0, 0.5
#: and what is around a place where this part of it is, upright or level up to this sine: in
#: squares of such a size with so many more to either side, and so many mm in each that are not.
_MUCH_AROUND, _LEVEL_SINE, _CELL_MM, _AROUND_CELLS, _FEW_AROUND_MM = 0.1, 0.1, 20.0, 2, 12.0


def built_lines(lines: Polylines, straight: Stretches, grown: Flags | None) -> Flags:
    """Lines that lie where much is straight, and are not grown.

    Args:
        lines: All of them.
        straight: What is straight by itself.
        grown: Lines that are not built wherever they are, if any are.
    """
    mine = np.ones(len(lines.closed), np.bool_) if grown is None else ~grown
    steps = np.diff(lines.along_mm, append=0.0)
    steps[lines.first[1:] - 1] = 0.0
    steps *= mine[lines.owner]
    parallel = straight.taken(parallel_mm(lines, straight) > _PARALLEL_MM)
    counts = _ALONE * _within(lines, straight) + _within(lines, parallel)
    much = (steps * counts).sum() > _MUCH * (steps.sum() + _FEW_MM)
    if much and _alike(lines, straight) < _ONE_WAY:
        return mine
    level = straight.taken(np.abs(straight.way).min(axis=1) < _LEVEL_SINE)
    at, size = _squares(lines)

    def around(values: Floats) -> npt.NDArray[np.float32]:
        sums = np.bincount(at, values, size[0] * size[1]).astype(np.float32)
        return box_mean(box_mean(sums.reshape(size), _AROUND_CELLS), _AROUND_CELLS)

    whole = around(steps) + np.float32(_FEW_AROUND_MM)
    much = around(steps * _within(lines, level)) > np.float32(_MUCH_AROUND) * whole
    share = np.add.reduceat(much.ravel()[at].astype(np.float64), lines.first[:-1])
    return np.asarray(mine & (share > np.diff(lines.first) / 2))


def _alike(lines: Polylines, straight: Stretches) -> float:
    """How far stretches have one direction, 0 to 1: the length of the mean at twice their angle."""
    length, (x, y) = straight.lengths_mm(lines), straight.way.T
    mean = (length * (x + 1j * y) ** 2).sum() / max(length.sum(), 1e-9)
    return float(np.abs(mean))


def _squares(lines: Polylines) -> tuple[npt.NDArray[np.int64], tuple[int, int]]:
    """The square that each place is in, and how many there are down and across."""
    row, column = (
        np.maximum(lines.places[:, axis] / _CELL_MM, 0).astype(np.int64) for axis in (1, 0)
    )
    size = (int(row.max()) + 1, int(column.max()) + 1)
    return row * size[1] + column, size


def _within(lines: Polylines, stretches: Stretches) -> Flags:
    """Places from which a stretch goes on."""
    change = np.zeros(len(lines.places) + 1, np.int64)
    np.add.at(change, stretches.begin, 1)
    np.add.at(change, stretches.end, -1)
    return np.asarray(np.cumsum(change)[:-1] > 0)
