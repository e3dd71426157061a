"""Short lines beside a rim: gloss, shade and the thickness of a lip in pieces.

A glazed edge has a streak of light along it here and there, which the reading takes for a line. It
runs with the rim for a while, a few mm inside or outside of it, and says nothing that the rim does
not. A draughtsman draws the rim (common practice). What goes on along it for long is another rim.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines
from worker.picture.outline.rims.finding import Rim, on_mm

#: A line is beside a rim that is so long where it runs as the rim does, by the sine, within this
#: part of its shorter half axis, but no more than so many mm; and is shorter than the second part
#: of the rim.
_RIM_MM, _ACROSS, _BESIDE, _BESIDE_MM, _PART = 150.0, 0.3, 0.09, 15.0, 0.15
#: So much of it is, where the rim has lines, looked at in so many parts around; and no more than
#: this of it is on any rim.
_MOSTLY, _LOOKED, _ON = 0.75, 72, 0.3
#: Places are looked at some mm apart.
_STEP_MM = 2.5


def beside_rims(lines: Polylines, course: Floats, rims: list[Rim], on_rims: Flags) -> Flags:
    """Which lines run beside rims and say nothing.

    Args:
        lines: In mm of the picture.
        course: Unit vectors along them at each place.
        rims: Those that lines are of.
        on_rims: Places that lie on them.
    """
    count = len(lines.closed)
    found, long_mm = np.zeros(count, np.bool_), lines.lengths_mm
    share = np.bincount(lines.owner, on_rims, count)
    may = ~lines.closed & (share < _ON * np.diff(lines.first))
    cell = np.floor(lines.along_mm / _STEP_MM).astype(np.int64)
    kept = np.flatnonzero((np.diff(cell, prepend=-1) > 0) | (np.diff(lines.owner, prepend=-1) != 0))
    places, owner = lines.places[kept], lines.owner[kept]
    many = np.bincount(owner, minlength=count)
    for rim in rims:
        around = float(rim.ellipse.around_mm)
        short = may & (long_mm < _PART * around)
        if around < _RIM_MM or not short.any():
            continue
        near = _in_box(places, rim)
        off, out = rim.ellipse.off_mm(places[near])
        along = course[kept[near]]
        across = np.abs(out[:, 0] * along[:, 0] + out[:, 1] * along[:, 1]) < _ACROSS
        is_on = (np.abs(off) < on_mm(rim.ellipse)) & across
        reach = min(_BESIDE * float(rim.ellipse.axes_mm[1]), _BESIDE_MM)
        beside = across & ~is_on & (np.abs(off) < reach) & short[owner[near]]
        if not beside.any():
            continue
        part = np.floor((rim.ellipse.angles(places[near]) / (2 * np.pi) + 0.5) * _LOOKED)
        part = part.astype(np.int64) % _LOOKED
        drawn = np.zeros(_LOOKED, np.bool_)
        drawn[part[is_on]] = True
        beside &= drawn[part]
        runs = np.bincount(owner[near[beside]], minlength=count) > _MOSTLY * many
        found |= runs
    return found


def _in_box(places: Floats, rim: Rim) -> Ints:
    """Which places are in the box of a rim, or so near that they may be beside it."""
    reach = rim.ellipse.axes_mm[0] + _BESIDE_MM
    return np.flatnonzero((np.abs(places - rim.ellipse.middle) < reach).all(axis=1))
