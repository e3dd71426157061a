"""Straight segments joined that lie on one line: texture and shade break one edge into several.

A window's side between quoins, or a wall's behind a creeper, is seen in pieces. Pieces of one line,
the same side of which is lighter, are one segment if the gaps between are short against them, as
Gestalt grouping has it (Desolneux, Moisan and Morel 2008).
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.points.nearness import within
from worker.picture.outline.polylines import Floats, Ints

#: Pieces have one direction by this cosine, and what is joined is no further from its line than
#: this; a gap is no longer than so many mm, and than this part of both pieces; nor do they overlap
#: by more.
_COSINE, _OFF_MM, _GAP_MM, _GAP_PART, _OVER_MM = 0.994, 0.55, 8.0, 0.8, 2.0
#: How often pieces are joined: two, four at most.
_ROUNDS = 2


def joined_pieces(start: Floats, stop: Floats, kind: Ints) -> tuple[Floats, Floats, list[Ints]]:
    """Segments of which collinear ones are one.

    Args:
        start: Of each, (segments, 2).
        stop: Of each.
        kind: Only pieces of one kind are joined.

    Returns:
        Start and stop of each that is left, and the numbers of its pieces.
    """
    pieces = [np.array([one]) for one in range(len(start))]
    for _ in range(_ROUNDS):
        one, two = _pairs(start, stop, kind)
        if not len(one):
            break
        gone = np.zeros(len(start), np.bool_)
        start, stop = start.copy(), stop.copy()
        for first, second in zip(one.tolist(), two.tolist(), strict=True):
            pieces[first] = np.concatenate((pieces[first], pieces[second]))
            start[first], stop[first] = _through(start[[first, second]], stop[[first, second]])
            gone[second] = True
        left = np.flatnonzero(~gone)
        start, stop, kind = start[left], stop[left], kind[left]
        pieces = [pieces[at] for at in left.tolist()]
    return start, stop, pieces


def _pairs(start: Floats, stop: Floats, kind: Ints) -> tuple[Ints, Ints]:
    """Pieces and the next ones on their lines; each is in one pair at most, the nearest first."""
    way = stop - start
    long = np.maximum(np.hypot(*way.T), 1e-9)
    way = way / long[:, None]
    # What overlaps or lies aside is as near as what has a gap, or nearer.
    one, two = within(stop, start, _GAP_MM + _OFF_MM)
    good = (one != two) & ((way[one] * way[two]).sum(axis=1) > _COSINE) & (kind[one] == kind[two])
    one, two = one[good], two[good]
    gap = ((start[two] - stop[one]) * (way[one] + way[two]) / 2).sum(axis=1)
    begin, end = _through(
        np.stack((start[one], start[two]), axis=1), np.stack((stop[one], stop[two]), axis=1)
    )
    whole = end - begin
    whole /= np.maximum(np.hypot(*whole.T), 1e-9)[:, None]
    off = np.max(
        [
            np.abs((at - begin)[:, 1] * whole[:, 0] - (at - begin)[:, 0] * whole[:, 1])
            for at in (start[one], stop[one], start[two], stop[two])
        ],
        axis=0,
        initial=0.0,
    )
    shorter = np.minimum(long[one], long[two])
    good = (
        (gap > -np.minimum(shorter / 2, _OVER_MM))
        & (gap < _GAP_MM)
        & (gap < _GAP_PART * (long[one] + long[two]))
    )
    good &= off < _OFF_MM
    one, two, cost = one[good], two[good], (np.abs(gap) + 4 * off)[good]
    taken = np.zeros(len(start), np.bool_)
    kept = []
    for at in np.argsort(cost, kind="stable").tolist():
        if not taken[one[at]] and not taken[two[at]]:
            taken[one[at]] = taken[two[at]] = True
            kept.append(at)
    return one[kept], two[kept]


def _through(start: Floats, stop: Floats) -> tuple[Floats, Floats]:
    """Ends of the line through two pieces, weighed by their lengths; (..., 2, 2) each."""
    way = stop - start
    long = np.hypot(way[..., 0], way[..., 1])[..., None]
    middle = ((start + stop) / 2 * long).sum(axis=-2) / long.sum(axis=-2)
    # Scatter of both pieces along their lengths (total least squares).
    rest = np.stack((start, (start + stop) / 2, stop), axis=-2) - middle[..., None, None, :]
    weight = long[..., None] * np.array((1.0, 4.0, 1.0))[:, None]
    xx, yy, xy = (
        (weight[..., 0] * rest[..., one] * rest[..., two]).sum(axis=(-2, -1))
        for one, two in ((0, 0), (1, 1), (0, 1))
    )
    angle = np.arctan2(2 * xy, xx - yy) / 2
    along = np.stack((np.cos(angle), np.sin(angle)), axis=-1)
    sign = np.sign((along * way.sum(axis=-2)).sum(axis=-1))
    along *= np.where(sign == 0, 1, sign)[..., None]
    ends = np.concatenate((start, stop), axis=-2) - middle[..., None, :]
    reach = (ends * along[..., None, :]).sum(axis=-1)
    return (
        middle + reach.min(axis=-1)[..., None] * along,
        middle + reach.max(axis=-1)[..., None] * along,
    )
