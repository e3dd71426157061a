"""Lines pass gradually from one edge to another.

A contour may follow one side of a rim and then the other. Both are known to a fraction of a pixel,
and from one to the other it would jump aside. A draughtsman draws one curve (common practice).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from worker.picture.outline.fairing.gap_curves import hermite
from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines

#: Between two edges there are so many pixels of the map at most. Each of them runs as it does over
#: the second number of pixels, and the way between turns aside and back by more than this.
_LONGEST_PX, _COURSE_PX, _TURN_DEG = 8.0, 4.0, 20.0
#: Of either so much is drawn anew, in parts of how far they are apart.
_ANEW = 2.0

_Complex = npt.NDArray[np.complex128]


def passed_over(lines: Polylines, edge: Flags, stays: Flags, map_mm: Floats) -> Polylines:
    """Lines that do not jump.

    Args:
        lines: In mm of the picture.
        edge: Which places are on edges of the picture.
        stays: Which stay where they are.
        map_mm: A pixel of the map at each place.
    """
    before, after = _gaps(lines, edge, map_mm)
    step_mm = lines.usual_step_mm if len(lines.closed) else 1.0
    course = np.maximum(np.rint(_COURSE_PX * map_mm[before] / step_mm).astype(np.int64), 1)
    begin, end = lines.first[lines.owner[before]], lines.first[lines.owner[before] + 1] - 1
    place: _Complex = lines.places[:, 0] + 1j * lines.places[:, 1]
    way = _unit(place[after] - place[before])
    one = np.angle(way * _unit(place[before] - place[np.maximum(before - course, begin)]).conj())
    two = np.angle(_unit(place[np.minimum(after + course, end)] - place[after]) * way.conj())
    least = np.minimum(np.abs(one), np.abs(two))
    apart = np.abs(place[after] - place[before]) * np.sin(np.minimum(least, np.pi / 2))
    anew = np.rint(_ANEW * apart / step_mm).astype(np.int64)
    low, high = np.maximum(before - anew, begin), np.minimum(after + anew, end)
    for at in np.flatnonzero((one * two < 0) & (least > np.radians(_TURN_DEG))).tolist():
        part = slice(low[at], high[at] + 1)
        if not stays[part].any():
            into = _unit(place[low[at]] - place[max(low[at] - course[at], begin[at])])
            out = _unit(place[min(high[at] + course[at], end[at])] - place[high[at]])
            place[part] = _curve(place[part], into, out)
    return replace(lines, places=np.stack((place.real, place.imag), axis=1))


def _gaps(lines: Polylines, edge: Flags, map_mm: Floats) -> tuple[Ints, Ints]:
    """The last place on one edge and the first on the next, with little of the map between."""
    at = np.flatnonzero(edge)
    before, after = at[:-1], at[1:]
    along, owner = lines.along_mm, lines.owner
    near = (after - before > 1) & (owner[before] == owner[after])
    near &= along[after] - along[before] <= _LONGEST_PX * map_mm[before]
    return before[near], after[near]


def _unit(way: _Complex) -> _Complex:
    return np.asarray(way / np.maximum(np.abs(way), 1e-9))


def _curve(place: _Complex, into: _Complex, out: _Complex) -> _Complex:
    """Hermite's curve in these directions, at the places' shares of the way."""
    along = np.cumsum(np.abs(np.diff(place, prepend=place[:1])))
    t = along / max(float(along[-1]), 1e-9)
    chord = np.abs(place[-1] - place[0])
    return hermite(t, (place[:1], place[-1:]), (chord * into, chord * out))
