"""What runs along a jaw within the face is no second outline.

Light from behind lies along a cheek as a rim, and shade along a chin: both have an inner edge that
runs beside the outline. A draughtsman draws the outline alone (common practice), and in one sweep.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.feature_lines.beside_bounds import beside
from worker.picture.outline.feature_lines.jaw_wobble import without_wobble
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats

#: A rim lies so far within its jaw, in sides; one place of a jaw in so many is looked at.
_RIM, _EVERY = (0.015, 0.075), 4
#: A line runs along a jaw by this cosine, where a heavier one, or as heavy and likelier, is as near
#: to it, in sides; ways as short are no run. A line is cut where a run is as long, or is so much of
#: the line; and what is left of it as short goes.
_ALONG, _DRAWN, _SHORTEST, _LONG, _MUCH, _LEFT = 0.85, 0.015, 0.04, 0.15, 0.4, 0.2

_Flags = npt.NDArray[np.bool_]
_Ints = npt.NDArray[np.int64]


def without_rims(
    faces: Sequence[FoundFace],
    points: Points,
    chains: Chains,
    weight: npt.NDArray[np.uint8],
    likely: Floats,
) -> tuple[Chains, _Ints]:
    """Lines without what runs beside a jaw that is drawn, within its face, or wavers along one.

    Args:
        faces: Those whose features were found.
        points: All points.
        chains: Lines that are drawn.
        weight: Of each.
        likely: How likely a person would draw a line at each point, 0 to 1.

    Returns:
        What is left, and the line that each was of.
    """
    of = np.arange(len(chains))
    for face in faces:
        worth = weight[of][chains.owner] + likely[chains.order]
        runs = _runs_along(face, points, chains, worth)
        if not runs.any():
            continue
        many = chains.counts
        chains, lines, _ = chains.parts(~runs)
        cut, of = chains.counts < many[lines], of[lines]
        short = chains.lengths(points.x, points.y) < np.float32(_LEFT * face.part.side_on_grid)
        chains, of = chains.taken(~(cut & short)), of[~(cut & short)]
    chains, lines = without_wobble(faces, points, chains)
    return chains, of[lines]


def _runs_along(face: FoundFace, points: Points, chains: Chains, worth: Floats) -> _Flags:
    """Which places of lines do, with a better line at the jaw beside them."""
    found, better = np.zeros(len(chains.order), np.bool_), np.zeros(len(chains.order))
    jaw, side = face.jaw.line[::_EVERY], face.jaw.side
    near = beside(jaw, points, chains, _RIM[1] * side)
    drawn, on = np.zeros(len(jaw)), near.taken(np.abs(near.out) < _DRAWN * side)
    np.maximum.at(drawn, on.place, worth[on.at])
    # Below a jaw, as one goes along it from the left, is outside of the face.
    inner = near.taken((near.out < -_RIM[0] * side) & (near.along > _ALONG))
    inner = inner.taken(drawn[inner.place] > 0)
    if not len(inner.at):
        return found
    found[inner.at] = True
    better[inner.at] = drawn[inner.place] - worth[inner.at]
    run = np.cumsum(np.diff(found, prepend=False) | (np.diff(chains.owner, prepend=-1) != 0))
    found &= np.bincount(run, better)[run] > 0
    long = (np.bincount(run) / side)[run]
    much = np.bincount(chains.owner, found, len(chains)) > _MUCH * chains.counts
    return np.asarray(found & ((long > _LONG) | (much[chains.owner] & (long > _SHORTEST))))
