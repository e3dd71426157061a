"""Rims of cups, plates and wheels: lines that are of one ellipse lie on it.

A circle is seen as an ellipse, and an eye knows one: what bulges where gloss crosses a rim, or is
flat where the map is, is seen at once. So ellipses are sought in lines: fitted to a part of one,
then to all that lies on it, and taken where enough of one is there. Short departures from it are
the picture's gloss and the reading's doubt; what departs for longer is another thing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, courses
from worker.picture.outline.rims.ellipses import Ellipse, ellipse_through

#: Lines are looked at in such steps, and by their direction over so many mm to either side.
_STEP_MM, _COURSE_MM = 2.0, 3.0
#: A line that has an ellipse is so long, and it is sought in the whole of it and in such parts.
_SHORTEST_MM, _PARTS = 40.0, (1.0, 0.6, 0.35)
#: An ellipse has axes of so many mm at least and most, and one is no more than so many times the
#: other.
_LEAST_MM, _MOST_MM, _FLAT = 6.0, 800.0, 5.0
#: Places are on it within such a part of its size, but between these many mm, as parallel to it
#: by this cosine.
_ON, _ON_LEAST_MM, _ON_MOST_MM, _ALONG = 0.012, 0.25, 0.8, 0.95
#: How often it is fitted to what is on it.
_FITTED = 5
#: It is a rim if places on it are all around but for this, looked at in so many parts.
_AROUND, _LOOKED = 0.6, 72
#: What is on it goes on over departures so far off, so long in parts of its circumference, and no
#: longer in mm; and is drawn on it if it is so long, going over to what is not in so many mm.
_OFF_MM, _OFF_PART, _OFF_LONG_MM, _RUN_MM, _OVER_MM = 2.5, 0.06, 25.0, 12.0, 5.0
#: No more ellipses than this are drawn.
_MOST = 60


@dataclass(frozen=True, kw_only=True, eq=False)
class _Sampled:
    """Places of lines some mm apart.

    Attributes:
        places: (samples, 2).
        course: Unit vectors along the line there.
        first: (lines + 1,): where each line's samples begin.
    """

    places: Floats
    course: Floats
    first: Ints


def with_rims(lines: Polylines, stays: Flags) -> tuple[Polylines, Flags]:
    """Lines that lie on the ellipses that they are of, and the places that do.

    Args:
        lines: In mm of the picture.
        stays: Places that stay where they are, as those of ruled lines.
    """
    on_rims = np.zeros(len(lines.places), np.bool_)
    if not len(lines.closed):
        return lines, on_rims
    course = courses(lines, _COURSE_MM)
    sampled = _sampled(lines, course, stays)
    places, free = lines.places.copy(), ~stays
    for ellipse in _ellipses(sampled):
        on_rims |= _lay(places, lines, course, ellipse, free)
    ring = np.flatnonzero(lines.closed)
    places[lines.first[ring + 1] - 1] = places[lines.first[ring]]
    return Polylines(places=places, first=lines.first, closed=lines.closed), on_rims


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


def _ellipses(sampled: _Sampled) -> list[Ellipse]:
    """Rims, those of which there is most first."""
    found: list[tuple[float, Ellipse]] = []
    taken = np.zeros(len(sampled.places), np.bool_)
    for begin, end in _seeds(sampled):
        if taken[begin:end].mean() > 1 / 2:
            continue
        ellipse = _grown(sampled, begin, end)
        if ellipse is None:
            continue
        on = _on(ellipse, sampled.places, sampled.course)
        around = _around(ellipse, sampled.places[on])
        if around > _AROUND:
            taken |= on
            found.append((float(on.sum()), ellipse))
    found.sort(key=lambda each: -each[0])
    return [ellipse for _, ellipse in found[:_MOST]]


def _seeds(sampled: _Sampled) -> list[tuple[int, int]]:
    """Parts of long lines that turn, the longest first."""
    least, seeds = int(_SHORTEST_MM / _STEP_MM), list[tuple[int, int]]()
    for begin, end in zip(sampled.first[:-1].tolist(), sampled.first[1:].tolist(), strict=True):
        for part in _PARTS:
            many = int((end - begin) * part)
            if many < least:
                break
            starts = np.linspace(begin, end - many, max(round(2 / part) - 1, 1)).astype(np.int64)
            seeds += [(at, at + many) for at in starts.tolist() if _turns(sampled, at, at + many)]
    return sorted(seeds, key=lambda seed: seed[0] - seed[1])


def _turns(sampled: _Sampled, begin: int, end: int) -> bool:
    """Whether a part turns one way alone, more than a little."""
    way = sampled.course[begin:end:4, 0] + 1j * sampled.course[begin:end:4, 1]
    turn = np.angle(way[1:] * way[:-1].conj())
    return bool(abs(turn.sum()) > 1.2 and abs(turn.sum()) > 0.7 * np.abs(turn).sum())


def _grown(sampled: _Sampled, begin: int, end: int) -> Ellipse | None:
    """The ellipse of a part, fitted to all that is on it; none if less and less is."""
    places = sampled.places[begin:end]
    ellipse = _robust(places)
    if ellipse is None or not _plausible(ellipse):
        return None
    if _on(ellipse, places, sampled.course[begin:end]).mean() < 1 / 2:
        return None
    for _ in range(_FITTED):
        on = _on(ellipse, sampled.places, sampled.course)
        fitted = ellipse_through(sampled.places[on], np.ones(int(on.sum())))
        if fitted is None or not _plausible(fitted):
            return None
        ellipse = fitted
    return ellipse


def _robust(places: Floats) -> Ellipse | None:
    """The fit in which what is far off counts less (Cauchy's weights)."""
    weight = np.ones(len(places))
    ellipse = None
    for _ in range(3):
        ellipse = ellipse_through(places, weight)
        if ellipse is None:
            return None
        weight = 1 / (1 + (ellipse.off_mm(places)[0] / _on_mm(ellipse)) ** 2)
    return ellipse


def _plausible(ellipse: Ellipse) -> bool:
    long, short = ellipse.axes_mm
    return short > _LEAST_MM / 2 and long < _MOST_MM / 2 and long < _FLAT * short


def _on_mm(ellipse: Ellipse) -> float:
    return float(np.clip(_ON * sum(ellipse.axes_mm), _ON_LEAST_MM, _ON_MOST_MM))


def _on(ellipse: Ellipse, places: Floats, course: Floats) -> Flags:
    """Places that are on an ellipse, and run along it."""
    off, out = ellipse.off_mm(places)
    across = np.abs((out * course).sum(axis=1))
    return np.asarray((np.abs(off) < _on_mm(ellipse)) & (across < np.sqrt(1 - _ALONG**2)))


def _around(ellipse: Ellipse, places: Floats) -> float:
    """How much of an ellipse has places, 0 to 1."""
    part = np.floor((ellipse.angles(places) / (2 * np.pi) + 0.5) * _LOOKED).astype(np.int64)
    return len(np.unique(part % _LOOKED)) / _LOOKED


def _lay(
    places: Floats, lines: Polylines, course: Floats, ellipse: Ellipse, free: Flags
) -> Flags:
    """Lay what is of an ellipse on it, and take it from what is free for others."""
    wholly = np.zeros(len(places), np.bool_)
    reach = ellipse.axes_mm[0] + _OFF_MM
    near = (np.abs(lines.places - ellipse.middle) < reach).all(axis=1)
    owner, along = lines.owner, lines.along_mm
    longest = min(_OFF_PART * ellipse.around_mm, _OFF_LONG_MM)
    for line in np.unique(owner[near]).tolist():
        part = slice(int(lines.first[line]), int(lines.first[line + 1]))
        on = _on(ellipse, lines.places[part], course[part]) & free[part]
        off = np.abs(ellipse.off_mm(lines.places[part])[0])
        on = _bridged(on, (off < _OFF_MM) & free[part], along[part], longest)
        share = _shares(on, along[part])
        if not share.any():
            continue
        moved = ellipse.nearest(lines.places[part]) - lines.places[part]
        places[part] = lines.places[part] + share[:, None] * moved
        free[part] &= share == 0
        wholly[part] = share == 1
    return wholly


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
