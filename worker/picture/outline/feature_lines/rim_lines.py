"""What runs along a jaw within the face is no second outline.

Light from behind lies along a cheek as a rim, and shade along a chin: both have an inner edge that
runs beside the outline. A draughtsman draws the outline alone (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats

#: A line runs along a jaw by this cosine, where a heavier one, or as
#: heavy and likelier, is as near to it, in sides;
#: ways as short are no run. A line is cut where a run is as long, or is so much of the line; and
#: what is left of it as short goes.
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
    """Lines without what runs beside a jaw that is drawn, within its face.

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
    return chains, of


def _runs_along(face: FoundFace, points: Points, chains: Chains, worth: Floats) -> _Flags:
    """Which places of lines do, with a better line at the jaw beside them."""
    found = np.zeros(len(chains.order), np.bool_)
    x, y = points.x[chains.order], points.y[chains.order]
    at, on = (np.flatnonzero(face.has(one, x, y)) for one in (face.rim, face.bound))
    if not len(at) or not len(on):
        return found
    jaw = face.jaw.line
    way = np.gradient(jaw, axis=0)
    way /= np.hypot(*way.T)[:, None]
    drawn = np.zeros(len(jaw))
    place, off = _nearest(jaw, np.stack((x[on], y[on]), axis=1))
    near = off < _DRAWN * face.jaw.side
    np.maximum.at(drawn, place[near], worth[on[near]])
    place, _ = _nearest(jaw, np.stack((x[at], y[at]), axis=1))
    point = chains.order[at]
    across = points.across_x[point] * way[place, 0] + points.across_y[point] * way[place, 1]
    found[at] = (across * across < 1 - _ALONG * _ALONG) & (drawn[place] > 0)
    better = np.zeros(len(found))
    better[at] = drawn[place] - worth[at]
    run = np.cumsum(np.diff(found, prepend=False) | (np.diff(chains.owner, prepend=-1) != 0))
    found &= np.bincount(run, better)[run] > 0
    long = (np.bincount(run) / face.jaw.side)[run]
    much = np.bincount(chains.owner, found, len(chains)) > _MUCH * chains.counts
    return np.asarray(found & ((long > _LONG) | (much[chains.owner] & (long > _SHORTEST))))


def _nearest(jaw: Doubles, places: Doubles) -> tuple[_Ints, Doubles]:
    """The place of a jaw next to each of some places, and how far it is."""
    off = np.hypot(places[:, :1] - jaw[:, 0], places[:, 1:] - jaw[:, 1])
    place = off.argmin(axis=1)
    return place, off[np.arange(len(off)), place]
