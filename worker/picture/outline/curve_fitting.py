"""Fit cubic Bézier curves to polylines: few curves, close to every point.

Curves begin at corners and at even distances. They take their tangents from the line and the
lengths of their handles by least squares (Schneider 1990), for all curves at once. Where a
point is further from its curve than allowed, the curve is divided there, and so on.
"""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.sampled_picture import LINE_SIGMA_MM
from worker.picture.outline.polylines import (
    MOST_MOVED,
    TOGETHER,
    Flags,
    Floats,
    Ints,
    Polylines,
    corners,
    dots,
    in_parts,
    smoothed_polylines,
    tangents,
)

#: A curve begins at least this often: longer ones are divided anyway, most of them.
LONGEST_MM = 16.0
#: No place of a steadied line is further from its curve, in widths of the smoothing.
TOLERANCE = 0.3
#: Handles by least squares are taken between these parts of a third of the way.
_SHORTEST_HANDLE, _LONGEST_HANDLE = 0.1, 3.0
#: Rounds of dividing; each makes spans shorter by a point at least, most by half.
_ROUNDS = 64
#: Less than this part of what it could be makes the equations for both handles unsound.
_SOUND = 1e-6


@dataclass(frozen=True, kw_only=True)
class Curves:
    """Fitted curves: (curves, 4, 2) in mm, and the line of each."""

    points: Floats
    owner: Ints


@dataclass(frozen=True, kw_only=True)
class _Way:
    """Steadied lines as they are fitted: places, the way to each, and directions there."""

    places: Floats
    along: Floats
    arrive: Floats
    leave: Floats


@dataclass(frozen=True, kw_only=True)
class _Spans:
    """Stretches of lines, one for each curve, place by place.

    Attributes:
        start, end: (spans,) their first and last places.
        head: (spans,) where each begins in the arrays that follow.
        span: (all places,) of which span.
        at: (all places,) which place.
        t: (all places,) the share of the span's way.
        length: (spans,) the whole way.
    """

    start: Ints
    end: Ints
    head: Ints
    span: Ints
    at: Ints
    t: Floats
    length: Floats


def fit_curves(
    lines: Polylines, sigma_mm: float = LINE_SIGMA_MM, pool: Executor | None = None
) -> Curves:
    """Curves near all places of the steadied lines, in their order.

    Args:
        lines: Through points, in mm of the picture.
        sigma_mm: The scale at which they were found: `MOST_MOVED` and `TOLERANCE` follow it.
        pool: Where some lines at a time are fitted, if given; the result does not depend on it.
    """

    def part_of(each: tuple[int, slice, Polylines]) -> tuple[Floats, Ints]:
        number, _, part = each
        curves = _fitted(part, sigma_mm)
        return curves.points, curves.owner + number

    parts = [*(pool.map if pool else map)(part_of, in_parts(lines, TOGETHER))]
    parts.insert(0, (np.zeros((0, 4, 2)), np.zeros(0, np.int64)))
    points, owners = zip(*parts, strict=True)
    return Curves(points=np.concatenate(points), owner=np.concatenate(owners))


def _fitted(lines: Polylines, sigma_mm: float) -> Curves:
    corner = corners(lines)
    lines = smoothed_polylines(lines, corner, MOST_MOVED * sigma_mm)
    arrive, leave = tangents(lines, corner)
    way = _Way(places=lines.places, along=lines.along_mm, arrive=arrive, leave=leave)
    began, points = _divided(way, *_first_spans(lines, corner, way.along), TOLERANCE * sigma_mm)
    order = np.argsort(began, kind="stable")
    return Curves(points=points[order], owner=lines.owner[began[order]])


def _first_spans(lines: Polylines, corner: Flags, along: Floats) -> tuple[Ints, Ints]:
    """From corner to corner, and between them in parts of even length."""
    first, owner = lines.first, lines.owner
    knot = corner.copy()
    knot[first[:-1]] = knot[first[1:] - 1] = True
    total = along[first[1:] - 1] - along[first[:-1]]
    part = total / np.maximum(np.ceil(total / LONGEST_MM), 1.0)
    number = np.floor((along - along[first[owner]]) / np.maximum(part[owner], 1e-9) + 1e-9)
    knot[1:] |= (number[1:] > number[:-1]) & (owner[1:] == owner[:-1])
    at = np.flatnonzero(knot)
    same = owner[at[:-1]] == owner[at[1:]]
    return at[:-1][same], at[1:][same]


def _divided(way: _Way, start: Ints, end: Ints, tolerance_mm: float) -> tuple[Ints, Floats]:
    """Fit, and divide what is too far off, until nothing is; first places and curves."""
    began, curves = [], []
    for _ in range(_ROUNDS):
        spans = _spans(way, start, end)
        curve = _fit(way, spans)
        worst, where = _worst(way, spans, curve)
        good = (worst <= tolerance_mm) | (end - start <= 1)
        began.append(start[good])
        curves.append(curve[good])
        if good.all():
            break
        start, middle, end = start[~good], where[~good], end[~good]
        start, end = np.concatenate((start, middle)), np.concatenate((middle, end))
    return np.concatenate(began), np.concatenate(curves)


def _spans(way: _Way, start: Ints, end: Ints) -> _Spans:
    counts = end - start + 1
    head = np.cumsum(counts) - counts
    span = np.repeat(np.arange(len(start)), counts)
    at = np.arange(len(span)) + (start - head)[span]
    length = np.maximum(way.along[end] - way.along[start], 1e-9)
    t = (way.along[at] - way.along[start][span]) / length[span]
    return _Spans(start=start, end=end, head=head, span=span, at=at, t=t, length=length)


def _weights(t: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Bernstein's: the share of each of four points in a cubic."""
    s = 1.0 - t
    return s * s * s, 3 * t * s * s, 3 * t * t * s, t * t * t


def _fit(way: _Way, spans: _Spans) -> Floats:
    """One curve for each span, with handles by least squares; (spans, 4, 2)."""
    begin, finish = way.places[spans.start], way.places[spans.end]
    out, back = way.leave[spans.start], -way.arrive[spans.end]
    b0, b1, b2, b3 = _weights(spans.t)
    # What is left for the handles to explain.
    rest = way.places.take(spans.at, axis=0)
    rest -= (b0 + b1)[:, None] * begin.take(spans.span, axis=0)
    rest -= (b2 + b3)[:, None] * finish.take(spans.span, axis=0)
    terms = (
        b1 * b1,
        b1 * b2 * dots(out, back).take(spans.span),
        b2 * b2,
        b1 * dots(out.take(spans.span, axis=0), rest),
        b2 * dots(back.take(spans.span, axis=0), rest),
    )
    a, b, c, d, e = (np.add.reduceat(term, spans.head) for term in terms)
    one, two = _solved(a, b, c, d, e, spans.length / 3)
    return np.stack((begin, begin + one[:, None] * out, finish + two[:, None] * back, finish), 1)


def _solved(  # noqa: PLR0913, PLR0917 - the two equations, as they are written.
    a: Floats, b: Floats, c: Floats, d: Floats, e: Floats, third: Floats
) -> tuple[Floats, Floats]:
    """Lengths of both handles: a x + b y = d, b x + c y = e; or a third of the way each."""
    whole = a * c - b * b
    sound = whole > _SOUND * a * c
    whole = np.where(sound, whole, 1.0)
    one, two = (c * d - b * e) / whole, (a * e - b * d) / whole
    low, high = np.minimum(one, two) / third, np.maximum(one, two) / third
    sound &= (low > _SHORTEST_HANDLE) & (high < _LONGEST_HANDLE)
    return np.where(sound, one, third), np.where(sound, two, third)


def _worst(way: _Way, spans: _Spans, curve: Floats) -> tuple[Floats, Ints]:
    """The largest distance of a place from its curve, in each span, and which place.

    Distances are to the same share of the way, no less than to the curve itself.
    """
    shares = _weights(spans.t)
    off: npt.NDArray[np.float64] = np.zeros(len(spans.t))
    for axis in (0, 1):
        value = -way.places[spans.at, axis]
        for number, share in enumerate(shares):
            value += share * curve[spans.span, number, axis]
        off += value * value
    worst = np.maximum.reduceat(off, spans.head)
    # The first of the places that are as far off as any; the ends are on the curve.
    far = np.flatnonzero(off >= worst[spans.span])
    which = spans.span[far]
    where = spans.at[far[np.concatenate(([True], which[1:] != which[:-1]))]]
    return np.sqrt(worst), np.clip(where, spans.start + 1, np.maximum(spans.end, 2) - 1)
