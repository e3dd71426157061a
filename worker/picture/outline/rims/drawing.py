"""Rims of cups, plates and wheels: lines that are of one ellipse lie on it.

A circle is seen as an ellipse, and an eye knows one: what bulges where gloss crosses a rim, or is
flat where the map is, is seen at once. So ellipses are sought in lines: fitted to a part of one,
then to all that lies on it, and taken where enough of one is there. Short departures from it are
the picture's gloss and the reading's doubt; what departs for longer is another thing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, courses
from worker.picture.outline.rims.ellipses import Ellipses, ellipse_through, ellipses_through

#: Lines are looked at in such steps, and by their direction over so many mm to either side.
_STEP_MM, _COURSE_MM = 3.0, 3.0
#: A line that has an ellipse is so long, and it is sought in the whole of it and in such parts.
_SHORTEST_MM, _PARTS = 40.0, (1.0, 0.5)
#: A part of one turns by so many radians, and so much of all that it turns is to one side, from
#: every so many places to the next.
_TURNED, _ONE_WAY, _COARSE = 1.0, 0.6, 4
#: An ellipse has axes of so many mm at least and most, and one is no more than so many times the
#: other.
_LEAST_MM, _MOST_MM, _FLAT = 6.0, 800.0, 5.0
#: Places are on it within such a part of its size, but between these many mm, and turned from
#: it by less than this sine.
_ON, _ON_LEAST_MM, _ON_MOST_MM, _ACROSS = 0.012, 0.25, 0.8, 0.31
#: It is fitted so often to a part, thinned to so many places, of which so much is on it then; and
#: so often to all that is on it.
_ROBUST, _THINNED, _MOSTLY, _FITTED = 3, 41, 0.7, 4
#: It is a rim if places on it are all around but for this, looked at in so many parts; what
#: has less than this part of that is none when it is fitted anew.
_AROUND, _LOOKED, _NEARLY = 0.42, 72, 0.75
#: What is on it goes on over departures so many times as far off, so long in parts of its
#: circumference, and no longer in mm; and is drawn on it if it is so long, going over to what is
#: not in so many mm.
_OFF, _OFF_PART, _OFF_LONG_MM, _RUN_MM, _OVER_MM = 3.0, 0.06, 25.0, 12.0, 5.0
#: No place is moved further than this and so many times as near as it is known.
_SURE_MM, _KNOWN = 0.15, 2.0
#: No more ellipses than this are drawn.
_MOST = 60


@dataclass(frozen=True, kw_only=True, eq=False)
class _Places:
    """Places of lines.

    Attributes:
        places: (places, 2).
        course: Unit vectors along the line there.
    """

    places: Floats
    course: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class _Sampled(_Places):
    """Places of lines some mm apart.

    Attributes:
        first: (lines + 1,): where each line's samples begin.
    """

    first: Ints


def with_rims(lines: Polylines, known_mm: Floats, stays: Flags) -> tuple[Polylines, Flags]:
    """Lines that lie on the ellipses that they are of, and the places that do.

    Args:
        lines: In mm of the picture.
        known_mm: How near to its line each place is; what is known well is moved no further.
        stays: Places that stay where they are, as those of ruled lines.
    """
    if not len(lines.closed):
        return lines, stays
    course = courses(lines, _COURSE_MM)
    sampled = _sampled(lines, course, stays)
    drawn = _Drawn(lines, course, _SURE_MM + _KNOWN * known_mm, ~stays)
    owner = np.repeat(np.arange(len(lines.closed)), np.diff(sampled.first))
    for ellipse, on in _ellipses(sampled):
        drawn.lay(ellipse, np.unique(owner[on]))
    ring = np.flatnonzero(lines.closed)
    drawn.places[lines.first[ring + 1] - 1] = drawn.places[lines.first[ring]]
    return replace(lines, places=drawn.places), drawn.on_rims


def _sampled(lines: Polylines, course: Floats, stays: Flags) -> _Sampled:
    cell = np.floor(lines.along_mm / _STEP_MM).astype(np.int64)
    owner = lines.owner
    kept = np.flatnonzero((np.diff(cell, prepend=-1) > 0) & ~stays)
    counts = np.bincount(owner[kept], minlength=len(lines.closed))
    return _Sampled(
        places=lines.places[kept],
        course=course[kept],
        first=np.concatenate(([0], np.cumsum(counts))),
    )


def _ellipses(sampled: _Sampled) -> list[tuple[Ellipses, Flags]]:
    """Rims and the samples on them, those of which there is most first."""
    found: list[tuple[Ellipses, Flags]] = []
    taken = np.zeros(len(sampled.places), np.bool_)
    parts = _parts(sampled)
    if not len(parts):
        return found
    ellipses, good = _of_parts(sampled, parts)
    for at in np.flatnonzero(good).tolist():
        begin, end = parts[at].tolist()
        if taken[begin:end].mean() > 1 / 2:
            continue
        ellipse = _grown(sampled, begin, end, ellipses.taken(at))
        if ellipse is None:
            continue
        on = _on(ellipse, sampled)
        if _around(ellipse, sampled.places[on]) > _AROUND:
            taken |= on
            found.append((ellipse, on))
    return sorted(found, key=lambda each: -int(each[1].sum()))[:_MOST]


def _parts(sampled: _Sampled) -> Ints:
    """First and last samples of parts of lines that may be of an ellipse, the longest first."""
    least, parts = int(_SHORTEST_MM / _STEP_MM), list[tuple[int, int]]()
    counts = np.diff(sampled.first)
    for part in _PARTS:
        for line in np.flatnonzero(counts * part >= least).tolist():
            many = int(counts[line] * part)
            begin, end = sampled.first[line], sampled.first[line + 1]
            starts = np.linspace(begin, end - many, max(round(2 / part) - 1, 1)).astype(np.int64)
            parts += [(at, at + many) for at in starts.tolist()]
    found = np.array(parts, np.int64).reshape(-1, 2)
    found = found[np.argsort(found[:, 0] - found[:, 1], kind="stable")]
    return found[_turning(_thinned(sampled, found))]


def _thinned(sampled: _Sampled, parts: Ints) -> Floats:
    """As many places of each part; (parts, places, 2)."""
    share = np.linspace(0, 1, _THINNED)
    at = parts[:, :1] + np.rint((parts[:, 1:] - 1 - parts[:, :1]) * share).astype(np.int64)
    return sampled.places[at]


def _turning(places: Floats) -> Flags:
    """Which parts turn more than a little, and mostly to one side."""
    way = np.diff(places[:, ::_COARSE, 0] + 1j * places[:, ::_COARSE, 1], axis=1)
    turn = np.angle(way[:, 1:] * way[:, :-1].conj())
    whole = np.abs(turn.sum(axis=1))
    return np.asarray((whole > _TURNED) & (whole > _ONE_WAY * np.abs(turn).sum(axis=1)))


def _of_parts(sampled: _Sampled, parts: Ints) -> tuple[Ellipses, Flags]:
    """The ellipse of each part, and whether most of the part is on it."""
    places = _thinned(sampled, parts)
    ellipses = ellipses_through(places, np.ones(places.shape[:2]))
    for _ in range(_ROBUST):
        # What is far off counts less (Cauchy's weights).
        off = ellipses.off_mm(places)[0] / _on_mm(ellipses)[:, None]
        ellipses = ellipses_through(places, 1 / (1 + off * off))
    off = np.abs(ellipses.off_mm(places)[0])
    on = (off < _on_mm(ellipses)[:, None]).mean(axis=1)
    return ellipses, _plausible(ellipses) & (on > _MOSTLY)


def _grown(sampled: _Sampled, begin: int, end: int, ellipse: Ellipses) -> Ellipses | None:
    """The ellipse of a part, fitted to all that is on it; none where hardly half of it is."""
    before = np.zeros(0, np.int64)
    for _ in range(_FITTED):
        on = np.flatnonzero(_on(ellipse, sampled))
        if ((on >= begin) & (on < end)).sum() < (end - begin) / 2:
            return None
        if _around(ellipse, sampled.places[on]) < _NEARLY * _AROUND:
            return None
        if np.array_equal(on, before):
            break
        before, ellipse = on, ellipse_through(sampled.places[on])
        if not _plausible(ellipse):
            return None
    return ellipse


def _plausible(ellipses: Ellipses) -> Flags:
    long, short = ellipses.axes_mm[..., 0], ellipses.axes_mm[..., 1]
    size = (short > _LEAST_MM / 2) & (long < _MOST_MM / 2)
    return np.asarray(ellipses.there & size & (long < _FLAT * short))


def _on_mm(ellipses: Ellipses) -> Floats:
    near = np.clip(_ON * ellipses.axes_mm.sum(axis=-1), _ON_LEAST_MM, _ON_MOST_MM)
    return np.asarray(near)


def _on(ellipse: Ellipses, lines: _Places) -> Flags:
    """Places that are on an ellipse, and run along it."""
    reach = ellipse.axes_mm[0] + _ON_MOST_MM
    on = (np.abs(lines.places - ellipse.middle) < reach).all(axis=1)
    near = np.flatnonzero(on)
    off, out = ellipse.off_mm(lines.places[near])
    across = np.abs((out * lines.course[near]).sum(axis=1))
    on[near] = (np.abs(off) < _on_mm(ellipse)) & (across < _ACROSS)
    return np.asarray(on)


def _around(ellipse: Ellipses, places: Floats) -> float:
    """How much of an ellipse has places, 0 to 1."""
    part = np.floor((ellipse.angles(places) / (2 * np.pi) + 0.5) * _LOOKED).astype(np.int64)
    return len(np.unique(part % _LOOKED)) / _LOOKED


class _Drawn:
    """Lines as they are laid on ellipses."""

    def __init__(self, lines: Polylines, course: Floats, most_mm: Floats, free: Flags) -> None:
        self.places = lines.places.copy()
        self.on_rims = np.zeros(len(free), np.bool_)
        self._lines, self._course, self._most_mm, self._free = lines, course, most_mm, free
        self._along = lines.along_mm

    def lay(self, ellipse: Ellipses, which: Ints) -> None:
        """Lay what is of an ellipse on it, and take it from what is free for others.

        Args:
            ellipse: The ellipse.
            which: Lines that have places on it.
        """
        longest = min(_OFF_PART * float(ellipse.around_mm), _OFF_LONG_MM)
        for line in which.tolist():
            part = slice(int(self._lines.first[line]), int(self._lines.first[line + 1]))
            start, free, along = self._lines.places[part], self._free[part], self._along[part]
            off = np.abs(ellipse.off_mm(start)[0])
            near = (off < np.minimum(self._most_mm[part], _OFF * _on_mm(ellipse))) & free
            on = _on(ellipse, _Places(places=start, course=self._course[part])) & near
            share = _shares(_bridged(on, near, along, longest), along)
            moving = np.flatnonzero(share)
            moved = ellipse.nearest(start[moving]) - start[moving]
            self.places[part][moving] = start[moving] + share[moving, None] * moved
            free[moving] = False
            self.on_rims[part][moving] = share[moving] == 1


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
