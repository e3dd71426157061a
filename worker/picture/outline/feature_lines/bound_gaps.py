"""Gaps in the bounds of a face, as a jaw or a hairline: where lines have most of one, the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles, fair
from worker.picture.outline.contours.features.bounds.bound import Bound
from worker.picture.outline.feature_lines.beside_bounds import in_box
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points

#: A bound is drawn where it is within so much of a line, in sides of the face; and a gap is seen at
#: every place.
_NEAR, _SEEN = 0.01, 0.2
#: Others run beside a gap if all of it is nearer to them than this, in its lengths, and than the
#: second, in sides; or if one has both of its ends, and so many times its length or less between
#: them.
_AWAY, _FAR, _BESIDE = 0.3, 0.05, 3.0
#: Ends reach for a line that is ahead by this cosine. One of them reaches for one that ends as near
#: as this, in sides, if the gap is shorter than the second: else another wanders beside the bound.
_AHEAD, _ENDS, _SHORT = 0.7, 0.04, 0.1
#: Pixels from one line to the next, along all of them.
_APART = 10_000
_BOTH = 2
#: What is drawn in a gap has so many places, of which waves of so many are smoothed.
_PLACES, _FAIR = 64, 14.0


@dataclass(frozen=True, kw_only=True)
class Joining:
    """How gaps of a kind are closed; all in sides of the face.

    Attributes:
        shortest: No gap is shorter.
        reaches: How far its ends reach for the next line.
        seen: How clear the bound is on the mean.
    """

    shortest: float
    reaches: float
    seen: float


def missing_parts(
    bounds: Sequence[Bound], points: Points, chains: Chains, joining: Joining
) -> list[Doubles]:
    """Parts of bounds that no line has, in pixels of the grid: (places, 2) each.

    Args:
        bounds: Those of faces.
        points: All points.
        chains: Lines that are drawn.
        joining: How gaps are closed.
    """
    x, y = points.x[chains.order], points.y[chains.order]
    found = []
    for one in bounds:
        at = in_box(one.line, x, y, max(joining.reaches, _FAR) * one.side)
        owner = np.searchsorted(chains.first, at, side="right") - 1
        # Points of a line are a pixel apart, and lines far from each other.
        from_end = np.minimum(at - chains.first[owner], chains.first[owner + 1] - 1 - at)
        along = at + owner * _APART
        drawn = np.stack((x[at], y[at], along, from_end), axis=1).astype(np.float64)
        found += _missing(one, drawn, joining)
    return found


def _missing(bound: Bound, drawn: Doubles, joining: Joining) -> list[Doubles]:
    """Gaps between lines whose places, how far along and how far from an end, are known."""
    if not len(drawn):
        return []
    off = _off(bound, drawn)
    gap = off > _NEAR * bound.side
    change = np.flatnonzero(np.diff(gap.astype(np.int8), prepend=0, append=0))
    found = []
    for first, last in zip(change[::2], change[1::2], strict=True):
        line = bound.line[first:last]
        long = float(np.hypot(*np.diff(line, axis=0).T).sum())
        if long < joining.shortest * bound.side or bound.seen[first:last].mean() < joining.seen:
            continue
        away = off[first:last].max() > min(_AWAY * long, _FAR * bound.side)
        reach = joining.reaches * bound.side
        ends = np.concatenate([_next(one, drawn, reach) for one in (line[::-1], line)])
        if away and len(ends) == _BOTH and _parts(ends, long, bound.side):
            joined = np.concatenate((ends[:1, :2], line, ends[1:, :2]))
            found.append(_smooth(joined))
    return found


def _off(bound: Bound, drawn: Doubles) -> Doubles:
    """How far each place of a bound that is seen is from lines, as far as that matters."""
    x, y = np.ascontiguousarray(drawn[np.argsort(drawn[:, 0]), :2].T)
    seen, far = np.flatnonzero(bound.seen > _SEEN), _FAR * bound.side
    ends = (np.searchsorted(x, bound.line[seen, 0] + off) for off in (-far, far))
    off = np.zeros(len(bound.seen))
    # A face that fills a mural has lines by the metre around: one place at a time.
    for at, first, last in zip(seen, *ends, strict=True):
        square = _square_off(bound.line[at], x[first:last], y[first:last])
        off[at] = np.sqrt(square.min(initial=np.inf))
    return off


def _smooth(line: Doubles) -> Doubles:
    """The fair line through evenly spaced places of another, with its ends."""
    steps = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
    at = np.linspace(0, steps[-1], _PLACES)
    return np.stack([fair(np.interp(at, steps, one), _FAIR, held=True) for one in line.T], axis=1)


def _parts(ends: Doubles, long: float, side: float) -> bool:
    """Whether a gap parts two lines, or one that goes another way."""
    real = long > _SHORT * side or float(ends[:, 3].min()) < _ENDS * side
    return bool(real and abs(ends[1, 2] - ends[0, 2]) > _BESIDE * long)


def _square_off(place: Doubles, x: Doubles, y: Doubles) -> Doubles:
    across, down = x - place[0], y - place[1]
    across *= across
    down *= down
    across += down
    return np.asarray(across)


def _next(line: Doubles, drawn: Doubles, reach: float) -> Doubles:
    """The nearest place of another line ahead of a line's end, if one is near: (0 or 1, 4)."""
    off = np.sqrt(_square_off(line[-1], *drawn[:, :2].T))
    way = (line[-1] - line[-2]) / np.hypot(*(line[-1] - line[-2]))
    ahead = (drawn[:, :2] - line[-1]) @ way > _AHEAD * off
    far = np.where(ahead, off, np.inf)
    return drawn[[far.argmin()]] if far.min() < reach else drawn[:0]
