"""Finding rims: ellipses that much of what is drawn lies on.

An ellipse is fitted to a part of a line, then to all that lies on it, and taken where enough of one
is there. What is on one is sought among samples in its box only: patterns have thousands of rings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines
from worker.picture.outline.rims.ellipses import Ellipses, ellipse_through, ellipses_through

#: Lines are looked at in such steps.
_STEP_MM = 3.0
#: A line that has an ellipse is so long, and it is sought in the whole of it and in such parts.
_SHORTEST_MM, _PARTS = 25.0, (1.0, 0.5)
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
#: It is a rim if places on it are all around but for this; what has less than this part of that is
#: none when it is fitted anew. It is looked at in parts of so many steps, of which there are so
#: many at least and most.
_AROUND, _NEARLY, _LOOKED_STEPS, _LOOKED = 0.42, 0.75, 2, (8, 72)
#: So many parts are tried, the longest first.
_TRIED = 600
#: No more ellipses than this are rims: what is not larger than the first of the others by this is
#: a pattern with it.
_MOST, _LARGER = 60, 1.25


@dataclass(frozen=True, kw_only=True, eq=False)
class Rim:
    """An ellipse that lines lie on.

    Attributes:
        ellipse: In mm of the picture.
        lines: The numbers of lines that have places on it.
        many: How many samples are on it.
    """

    ellipse: Ellipses
    lines: Ints
    many: int


def rims_of(lines: Polylines, course: Floats, stays: Flags) -> list[Rim]:
    """Rims of which lines have enough, those of which there is most first.

    Args:
        lines: In mm of the picture.
        course: Unit vectors along them at each place.
        stays: Places that are of something else.
    """
    sampled = _Sampled(lines, course, stays)
    rims = sorted(_found(sampled), key=lambda rim: -float(rim.ellipse.around_mm))
    if len(rims) > _MOST:
        least = _LARGER * float(rims[_MOST].ellipse.around_mm)
        rims = [rim for rim in rims[:_MOST] if rim.ellipse.around_mm > least]
    return sorted(rims, key=lambda rim: -rim.many)


def on_ellipse(ellipse: Ellipses, places: Floats, course: Floats) -> Flags:
    """Places that are on an ellipse, and run along it."""
    off, out = ellipse.off_mm(places)
    across = np.abs((out * course).sum(axis=1))
    return np.asarray((np.abs(off) < on_mm(ellipse)) & (across < _ACROSS))


def on_mm(ellipses: Ellipses) -> Floats:
    """How near places are that are on ellipses."""
    near = np.clip(_ON * ellipses.axes_mm.sum(axis=-1), _ON_LEAST_MM, _ON_MOST_MM)
    return np.asarray(near)


class _Sampled:
    """Places of lines some mm apart.

    Attributes:
        places: (places, 2).
        owner: The line of each.
        first: (lines + 1,): where each line's samples begin.
    """

    def __init__(self, lines: Polylines, course: Floats, stays: Flags) -> None:
        cell = np.floor(lines.along_mm / _STEP_MM).astype(np.int64)
        kept = np.flatnonzero((np.diff(cell, prepend=-1) > 0) & ~stays)
        self.places, self.owner = lines.places[kept], lines.owner[kept]
        counts = np.bincount(self.owner, minlength=len(lines.closed))
        self.first = np.concatenate(([0], np.cumsum(counts)))
        self._course = course[kept]
        # In the order of how far across they are.
        self._order = np.argsort(self.places[:, 0], kind="stable")
        self._x, self._y = self.places[self._order].T

    def on(self, ellipse: Ellipses) -> Ints:
        """The samples on an ellipse, as they are along their lines."""
        reach = ellipse.axes_mm[0] + _ON_MOST_MM
        low, high = ellipse.middle - reach, ellipse.middle + reach
        begin, end = np.searchsorted(self._x, (low[0], high[0]))
        y = self._y[begin:end]
        near = np.sort(self._order[begin:end][(y > low[1]) & (y < high[1])])
        return np.asarray(near[on_ellipse(ellipse, self.places[near], self._course[near])])


def _found(sampled: _Sampled) -> list[Rim]:
    """Rims of the longest parts."""
    found, tried = list[Rim](), 0
    taken = np.zeros(len(sampled.places), np.bool_)
    parts = _parts(sampled)
    if not len(parts):
        return found
    ellipses, good = _of_parts(sampled, parts)
    for at in np.flatnonzero(good).tolist():
        begin, end = parts[at].tolist()
        if taken[begin:end].mean() > 1 / 2:
            continue
        if tried == _TRIED:
            break
        tried += 1
        ellipse = _grown(sampled, begin, end, ellipses.taken(at))
        if ellipse is None:
            continue
        on = sampled.on(ellipse)
        if _around(ellipse, sampled.places[on]) > _AROUND:
            taken[on] = True
            found.append(Rim(ellipse=ellipse, lines=np.unique(sampled.owner[on]), many=len(on)))
    return found


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
        off = ellipses.off_mm(places)[0] / on_mm(ellipses)[:, None]
        ellipses = ellipses_through(places, 1 / (1 + off * off))
    off = np.abs(ellipses.off_mm(places)[0])
    on = (off < on_mm(ellipses)[:, None]).mean(axis=1)
    return ellipses, _plausible(ellipses) & (on > _MOSTLY)


def _grown(sampled: _Sampled, begin: int, end: int, ellipse: Ellipses) -> Ellipses | None:
    """The ellipse of a part, fitted to all that is on it; none where hardly half of it is."""
    before = np.zeros(0, np.int64)
    for _ in range(_FITTED):
        on = sampled.on(ellipse)
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


def _around(ellipse: Ellipses, places: Floats) -> float:
    """How much of an ellipse has places, 0 to 1."""
    # Parts of small ones are as long as parts of large ones: each has samples.
    looked = int(np.clip(ellipse.around_mm / (_LOOKED_STEPS * _STEP_MM), *_LOOKED))
    part = np.floor((ellipse.angles(places) / (2 * np.pi) + 0.5) * looked).astype(np.int64)
    return len(np.unique(part % looked)) / looked
