"""Rims of cups, plates and wheels: lines that are of one ellipse lie on it.

A circle is seen as an ellipse, and an eye knows one: what bulges where gloss crosses a rim, or is
flat where the map is, is seen at once. So what is on a rim is laid on its ellipse. Short departures
from it are the picture's gloss and the reading's doubt; what departs for longer is another thing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Polylines, courses
from worker.picture.outline.rims.beside import beside_rims
from worker.picture.outline.rims.ellipses import Ellipses
from worker.picture.outline.rims.finding import Rim, on_ellipse, on_mm, rims_of

#: Lines have their direction over so many mm to either side.
_COURSE_MM = 3.0
#: What is on it goes on over departures so many times as far off, so long in parts of its
#: circumference, and no longer in mm; and is drawn on it if it is so long, going over to what is
#: not in so many mm.
_OFF, _OFF_PART, _OFF_LONG_MM, _RUN_MM, _OVER_MM = 3.0, 0.06, 25.0, 12.0, 5.0
#: No place is moved further than this and so many times as near as it is known.
_SURE_MM, _KNOWN = 0.15, 2.0
#: A ring is looked at in so many turns, of which the one between has what is before and after it.
_TURNS = 3


@dataclass(frozen=True, kw_only=True, eq=False)
class OnRims:
    """Lines on the rims that they are of.

    Attributes:
        lines: In mm of the picture.
        on: Their places that lie on rims.
        beside: Lines that run beside one and say nothing.
    """

    lines: Polylines
    on: Flags
    beside: Flags


def with_rims(lines: Polylines, known_mm: Floats, stays: Flags) -> OnRims:
    """Lines that lie on the ellipses that they are of.

    Args:
        lines: In mm of the picture.
        known_mm: How near to its line each place is; what is known well is moved no further.
        stays: Places that stay where they are, as those of ruled lines.
    """
    if not len(lines.closed):
        return OnRims(lines=lines, on=stays, beside=lines.closed)
    course = courses(lines, _COURSE_MM)
    drawn = _Drawn(lines, course, _SURE_MM + _KNOWN * known_mm, ~stays)
    rims = rims_of(lines, course, stays)
    for rim in rims:
        drawn.lay(rim)
    return OnRims(
        lines=replace(lines, places=drawn.places),
        on=drawn.on_rims,
        beside=beside_rims(lines, course, rims, drawn.on_rims),
    )


class _Drawn:
    """Lines as they are laid on ellipses."""

    def __init__(self, lines: Polylines, course: Floats, most_mm: Floats, free: Flags) -> None:
        self.places = lines.places.copy()
        self.on_rims = np.zeros(len(free), np.bool_)
        self._lines, self._course, self._most_mm, self._free = lines, course, most_mm, free
        self._along = lines.along_mm

    def lay(self, rim: Rim) -> None:
        """Lay what is of a rim on its ellipse, and take it from what is free for others."""
        for line in rim.lines.tolist():
            begin, end = self._lines.first[line : line + 2].tolist()
            self._lay(rim.ellipse, slice(begin, end), closed=bool(self._lines.closed[line]))
            if self._lines.closed[line]:
                for each in (self.places, self.on_rims, self._free):
                    each[end - 1] = each[begin]

    def _lay(self, ellipse: Ellipses, part: slice, *, closed: bool) -> None:
        start, free = self._lines.places[part], self._free[part]
        share = self._share(ellipse, part, closed=closed)
        moving = np.flatnonzero(share)
        moved = ellipse.nearest(start[moving]) - start[moving]
        self.places[part][moving] = start[moving] + share[moving, None] * moved
        free[moving] = False
        self.on_rims[part][moving] = share[moving] == 1

    def _share(self, ellipse: Ellipses, part: slice, *, closed: bool) -> Floats:
        """How far each place of a line is laid on an ellipse."""
        start, along = self._lines.places[part], self._along[part]
        off = np.abs(ellipse.off_mm(start)[0])
        near = off < np.minimum(self._most_mm[part], _OFF * on_mm(ellipse))
        near &= self._free[part]
        on = on_ellipse(ellipse, start, self._course[part]) & near
        longest = min(_OFF_PART * float(ellipse.around_mm), _OFF_LONG_MM)
        if not closed:
            return _shares(_bridged(on, near, along, longest), along)
        # The last place of a ring is its first.
        many = len(on) - 1
        on, near = np.tile(on[:-1], _TURNS), np.tile(near[:-1], _TURNS)
        turns = (along[-1] - along[0]) * np.arange(_TURNS)
        along = (turns[:, None] + along[:-1]).ravel()
        share = _shares(_bridged(on, near, along, longest), along)[many : 2 * many]
        return np.append(share, share[0])


def _bridged(on: Flags, near: Flags, along: Floats, longest: float) -> Flags:
    """With departures between that are short and not far."""
    on = on.copy()
    change = np.diff(np.concatenate(([False], ~on, [False])).astype(np.int8))
    for begin, end in zip(np.flatnonzero(change > 0), np.flatnonzero(change < 0), strict=True):
        inside = begin > 0 and end < len(on)
        if inside and along[end] - along[begin - 1] < longest and near[begin:end].all():
            on[begin:end] = True
    return on


def _shares(on: Flags, along: Floats) -> Floats:
    """How far each place is laid on an ellipse: whole, but for the ends of long runs."""
    share = np.zeros(len(on))
    change = np.diff(np.concatenate(([False], on, [False])).astype(np.int8))
    for begin, end in zip(np.flatnonzero(change > 0), np.flatnonzero(change < 0), strict=True):
        way = along[begin:end]
        if way[-1] - way[0] < _RUN_MM:
            continue
        far = np.full(len(way), _OVER_MM)
        if begin > 0:
            far = np.minimum(far, way - way[0])
        if end < len(on):
            far = np.minimum(far, way[-1] - way)
        part = far / _OVER_MM
        share[begin:end] = part * part * (3 - 2 * part)
    return share
