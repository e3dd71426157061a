"""What is missing of hair's bounds, where lines have the rest: its outline, and where it begins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles, Ints
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.feature_lines.beside_bounds import beside
from worker.picture.outline.feature_lines.bound_gaps import Joining, missing_parts
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.nearness import pairs_within

#: Lines have a hairline where one runs as near, in sides, by this cosine. If they have so much of
#: it, as far as it is as clear as the last, what they have not within the second distance is drawn.
_NEAR, _BESIDE, _ALONG, _HAD, _SEEN = 0.025, 0.06, 0.7, 0.5, 0.3

#: Hair is soft: its gaps are long, and their ends reach further than a jaw's.
_GAPS = Joining(shortest=0.08, reaches=0.09, seen=0.65)
#: An outline is closed where the reading has some of it, and no line runs as near, in sides: curls
#: have theirs beside a course that bends slowly.
_CROWN_GAPS = Joining(shortest=0.02, reaches=0.06, seen=0.68)
_CURLS = 0.03
#: Two lines of it that end so near to each other, in sides, and nearer to no other line by this
#: part, are one: a curl is stepped over, in so many places.
_STEP, _NEARER, _PLACES = 0.05, 0.6, 8


def missing_crowns(faces: Sequence[FoundFace], points: Points, chains: Chains) -> list[Doubles]:
    """Parts of hair's outlines that no line has, as below."""
    found, steps = [], list[Doubles]()
    for face in faces:
        hair = face.crown
        near = beside(hair.line, points, chains, _CURLS * hair.side)
        seen = hair.seen.copy()
        seen[near.place[near.along > _ALONG]] = 0
        found.append(replace(hair, seen=seen))
        clear = near.taken(hair.seen[near.place] > _SEEN)
        steps += _steps(clear.at, _STEP * hair.side, points, chains)
    return steps + missing_parts(found, points, chains, _CROWN_GAPS)


def _steps(at: Ints, reach: float, points: Points, chains: Chains) -> list[Doubles]:
    """From end to end of lines that end near each other, among places in the lines' order."""
    points_at, own = chains.order[at], chains.owner[at]
    is_end = np.isin(at, np.concatenate((chains.first[:-1], chains.first[1:] - 1)))
    ends = np.flatnonzero(is_end & ~chains.closed[own])
    # Lines are no nearer to each other than a pixel, and cells that are smaller are too many.
    one, two = pairs_within(points, points_at[ends], points_at, max(reach, 1.0))
    one = ends[one]
    other = own[one] != own[two]
    one, two = one[other], two[other]
    off = np.hypot(*(each[points_at[one]] - each[points_at[two]] for each in (points.x, points.y)))
    nearest = np.full(len(at), np.inf)
    np.minimum.at(nearest, one, off)
    free = np.minimum(nearest[one], nearest[two]) > _NEARER * off
    found = np.flatnonzero(free & (off < reach) & (one < two) & np.isin(two, ends))
    found = found[np.lexsort((two[found], one[found]))]
    places = np.stack((points.x[points_at], points.y[points_at]), axis=1).astype(np.float64)
    return [
        np.linspace(places[a], places[b], _PLACES)
        for a, b in zip(one[found], two[found], strict=True)
    ]


def missing_hairlines(faces: Sequence[FoundFace], points: Points, chains: Chains) -> list[Doubles]:
    """Parts of hairlines that no line has, in pixels of the grid: (places, 2) each.

    Args:
        faces: Those whose features were found.
        points: All points.
        chains: Lines that are drawn.
    """
    found = []
    for face in faces:
        hair = face.hairline
        near = beside(hair.line, points, chains, _BESIDE * hair.side)
        near = near.taken(near.along > _ALONG)
        had = np.unique(near.place[np.abs(near.out) < _NEAR * hair.side])
        clear = hair.seen > _SEEN
        if clear[had].sum() > _HAD * clear.sum():
            seen = hair.seen.copy()
            seen[near.place] = 0
            found.append(replace(hair, seen=seen))
    return missing_parts(found, points, chains, _GAPS)
