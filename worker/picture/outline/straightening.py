"""Straight things come out straight: stretches that are straight within their noise become so.

A stretch runs from corner to corner. Where all of its places lie near the line that fits them
best, nearer than the picture resolves, what is left is no form but grain and the picture's
pixels, and a draughtsman takes a ruler.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.polylines import Floats, Ints, Polylines, corners

#: Places of a straight line are found this near to it, in widths of the smoothing.
STRAIGHT = 0.6
#: Shorter stretches stay as they are.
_SHORTEST_MM = 10.0
#: How far places may be from the line, in parts of the stretch's length: less than one sees.
_BOW = 0.01


def straightened(lines: Polylines, near_mm: float) -> Polylines:
    """Lines whose straight stretches are straight.

    Args:
        lines: Through points, in mm of the picture.
        near_mm: No place of a straight stretch is further from the line that fits it best.
    """
    if not len(lines.closed):
        return lines
    begin, end = _stretches(lines)
    counts = end - begin + 1
    heads = np.cumsum(counts) - counts
    owner = np.repeat(np.arange(len(begin)), counts)
    at = np.arange(len(owner)) + (begin - heads)[owner]
    middle, way = _best_lines(lines.places[at], heads, counts, owner)
    rest = lines.places[at] - middle[owner]
    aside = np.abs(rest[:, 0] * way[owner, 1] - rest[:, 1] * way[owner, 0])
    length = np.hypot(*(lines.places[end] - lines.places[begin]).T)
    straight = np.maximum.reduceat(aside, heads) <= np.minimum(near_mm, _BOW * length)
    straight &= length >= _SHORTEST_MM
    places = _with_ends(lines, (begin[straight], end[straight]), middle[straight], way[straight])
    moved = straight[owner] & (at != begin[owner]) & (at != end[owner])
    at, begin, end = at[moved], begin[owner][moved], end[owner][moved]
    chord = lines.places[end] - lines.places[begin]
    share = ((lines.places[at] - lines.places[begin]) * chord).sum(axis=1) / (chord**2).sum(axis=1)
    places[at] = places[begin] + np.clip(share, 0, 1)[:, None] * (places[end] - places[begin])
    return Polylines(places=places, first=lines.first, closed=lines.closed)


def _stretches(lines: Polylines) -> tuple[Ints, Ints]:
    """First and last places of stretches between corners and ends."""
    knot = corners(lines)
    knot[lines.first[:-1]] = knot[lines.first[1:] - 1] = True
    at, owner = np.flatnonzero(knot), lines.owner
    same = owner[at[:-1]] == owner[at[1:]]
    return at[:-1][same], at[1:][same]


def _best_lines(places: Floats, heads: Ints, counts: Ints, owner: Ints) -> tuple[Floats, Floats]:
    """Middle and direction of the line that fits each stretch best (total least squares)."""
    middle = np.add.reduceat(places, heads, axis=0) / counts[:, None]
    rest = places - middle[owner]
    xx, yy, xy = (
        np.add.reduceat(one * two, heads)
        for one, two in (
            (rest[:, 0], rest[:, 0]),
            (rest[:, 1], rest[:, 1]),
            (rest[:, 0], rest[:, 1]),
        )
    )
    angle = np.arctan2(2 * xy, xx - yy) / 2
    return middle, np.stack((np.cos(angle), np.sin(angle)), axis=1)


def _with_ends(lines: Polylines, ends: tuple[Ints, Ints], middle: Floats, way: Floats) -> Floats:
    """Places, of which ends of straight stretches lie on their lines, between two if on both."""
    one = np.arange(len(lines.places))
    # The last place of a ring is its first one.
    ring = np.flatnonzero(lines.closed)
    one[lines.first[ring + 1] - 1] = lines.first[ring]
    total, count = np.zeros_like(lines.places), np.zeros(len(one))
    for end in ends:
        along = ((lines.places[end] - middle) * way).sum(axis=1)
        np.add.at(total, one[end], middle + along[:, None] * way)
        np.add.at(count, one[end], 1.0)
    mean = np.where(count[:, None] > 0, total / np.maximum(count, 1.0)[:, None], lines.places)
    return np.asarray(mean[one])
