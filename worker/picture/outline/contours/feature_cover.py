"""What of all other lines features of faces replace, and round forms.

Within a mouth, a brow or an eye no line is drawn but theirs. But what passes in front or behind,
as a shoulder, a strand of hair or the outline of a cheek, is not theirs: it comes from outside,
and most of it lies there. Nothing passes in front of an eye of an animal: lines end at its edge.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.contours.features.face_features import FaceFeatures
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.contours.ridge_places import Flags, Ints, Places
from worker.picture.outline.contours.round_forms.forms import RoundForms
from worker.picture.outline.points.chains import chains_of
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.linking import Ids

#: A line passes if less than this part of it is in features, and neither end.
_PASSES = 0.3


def points_replaced(
    features: FaceFeatures,
    rounds: RoundForms,
    placed: PlacedReading,
    points: Points,
    link: Ids,
) -> Flags:
    """Which points of edges are features' own, or of round forms, or shade in a socket.

    Args:
        features: Of faces.
        rounds: Round forms elsewhere.
        placed: The reading.
        points: Of edges.
        link: Their neighbours.
    """
    covered = rounds.cover(points.x, points.y, points.across_x, points.across_y)
    # All others are far from faces.
    near = features.near(points.x, points.y)
    if not near.any():
        return covered
    at, number = np.flatnonzero(near), np.where(near, np.cumsum(near) - 1, -1).astype(np.int32)
    some = points.taken(at)
    mine = features.cover(some.x, some.y)
    mine |= features.shade(placed, some.x, some.y, some.across_x, some.across_y)
    chains = chains_of(np.where(link[at] >= 0, number[link[at]], np.int32(-1)))
    mine[chains.order] = _without_passing(chains.owner, mine[chains.order])
    covered[at] |= mine
    return covered


def places_replaced(
    features: FaceFeatures, rounds: RoundForms, placed: PlacedReading, places: Places
) -> Flags:
    """The same of places along ridges."""
    covered = features.cover(places.x, places.y)
    covered |= features.shade(placed, places.x, places.y, places.nx, places.ny)
    covered = _without_passing(places.line, covered) if covered.any() else covered
    return covered | rounds.cover(places.x, places.y, places.nx, places.ny)


def _without_passing(line: Ints, covered: Flags) -> Flags:
    """What is covered of lines that do not pass.

    Args:
        line: Of each place, in order; ascending.
        covered: Whether it is.
    """
    _, first, number = np.unique(line, return_index=True, return_inverse=True)
    last = np.append(first[1:], len(line)) - 1
    share = np.bincount(number, covered) / np.bincount(number)
    passes = (share < _PASSES) & ~covered[first] & ~covered[last]
    return np.asarray(covered & ~passes[number])
