"""Lines that waver along a jaw give way to the jaw.

Stubble, and a chin that is as light as its neck, leave lines that go to and fro about a jaw, with a
kink where two of them meet. A draughtsman draws it in one sweep (common practice). They are left
out where the jaw's own course turns far less and closes the gap.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.bounds.bound import Bound
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.feature_lines.beside_bounds import beside
from worker.picture.outline.feature_lines.jaw_lines import missing_jaws
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points

#: A line runs along a jaw so near, in sides, by this cosine, where the jaw is so clear; for as
#: long, in sides; and meets it where it is as near as the last.
_NEAR, _ALONG, _CLEAR, _LONG, _MEETS = 0.02, 0.6, 0.45, 0.12, 0.004
#: It wavers if it turns by so many times as much as the jaw there and by so much more, in radians,
#: from step to step of so many sides.
_TURNS, _MORE, _STEP = 2.0, 0.6, 0.025
#: So much of what is left out the jaw's course must have, and come so near to where lines are cut,
#: in sides; and what is left of a line as short goes with it.
_CLOSED, _JOINS, _LEFT = 0.85, 0.016, 0.08

_Ints = npt.NDArray[np.int64]


def without_wobble(
    faces: Sequence[FoundFace], points: Points, chains: Chains
) -> tuple[Chains, _Ints]:
    """Lines without what wavers along jaws.

    Args:
        faces: Those whose features were found.
        points: All points.
        chains: Lines that are drawn.

    Returns:
        What is left, and the line that each was of.
    """
    of = np.arange(len(chains))
    for face in faces:
        whole, gone = chains, np.zeros(0, np.int64)
        # Places, as a run may share a point with what only ends on it.
        at = np.arange(len(whole.order))
        for run in _wavering(face, points, whole):
            goes = np.isin(at, run)
            left, lines, places = _left(points, chains, goes, _LEFT * face.jaw.side)
            more = np.concatenate((gone, whole.order[run]))
            if _is_closed(face.jaw, points, left, more, _cut_at(chains, goes)):
                chains, of, at, gone = left, of[lines], at[places], more
    return chains, of


def _left(
    points: Points, chains: Chains, goes: npt.NDArray[np.bool_], least: float
) -> tuple[Chains, _Ints, _Ints]:
    """Lines without places, and without what is cut as short as that; their lines and places."""
    left, lines, places = chains.parts(~goes)
    stays = left.counts == chains.counts[lines]
    cut = left.taken(~stays).lengths(points.x, points.y)
    stays[~stays] = cut > np.float32(least)
    return left.taken(stays), lines[stays], places[np.repeat(stays, left.counts)]


def _wavering(face: FoundFace, points: Points, chains: Chains) -> list[_Ints]:
    """The places of each run of a line that wavers along a jaw, the longest first."""
    jaw, found = face.jaw, list[_Ints]()
    x, y = points.x[chains.order], points.y[chains.order]
    among = np.flatnonzero(face.has(face.bound, x, y))
    near = beside(jaw.line, points, chains, _NEAR * jaw.side, among)
    near = near.taken((near.along > _ALONG) & (jaw.seen[near.place] > _CLEAR))
    # A run ends where its line leaves the jaw, and lines follow each other.
    begins = np.diff(near.at, prepend=-2) > 1
    begins |= np.diff(chains.owner[near.at], prepend=-1) != 0
    for whole in np.split(np.arange(len(near.at)), np.flatnonzero(begins)[1:]):
        # To where it meets the jaw a line stays: a neck hangs on its chin.
        on_it = whole[np.abs(near.out[whole]) < _MEETS * jaw.side]
        at, place = near.at[whole], near.place[whole]
        short = len(whole) < max(_LONG * jaw.side, 2)
        if short or not len(on_it) or chains.closed[chains.owner[at[0]]]:
            continue
        line, course = np.stack((x[at], y[at]), axis=1), jaw.line[place.min() : place.max() + 1]
        turns, usual = (_turning(one, _STEP * jaw.side) for one in (line, course))
        if turns > max(_TURNS * usual, usual + _MORE):
            found.append(np.arange(near.at[on_it[0]], near.at[on_it[-1]] + 1))
    return sorted(found, key=len, reverse=True)


def _turning(line: Doubles | npt.NDArray[np.float32], step: float) -> float:
    """By how much a line turns to either side in all, in radians, from step to step."""
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
    at = np.linspace(0, along[-1], max(int(along[-1] / step), 1) + 1)
    ways = np.diff([np.interp(at, along, one) for one in line.T], axis=1)
    return float(np.abs(np.diff(np.unwrap(np.arctan2(ways[1], ways[0])))).sum())


def _cut_at(chains: Chains, goes: npt.NDArray[np.bool_]) -> _Ints:
    """Points where lines are cut, but for their ends."""
    cut = goes.copy()
    cut[chains.first[:-1]] = cut[chains.first[1:] - 1] = False
    inside = np.flatnonzero(cut)
    return np.asarray(chains.order[inside[~goes[inside - 1] | ~goes[inside + 1]]], np.int64)


def _is_closed(jaw: Bound, points: Points, chains: Chains, gone: _Ints, cut: _Ints) -> bool:
    """Whether the jaw's course has what is left out, as far as lines have not, and joins cuts."""
    parts = missing_jaws([jaw], points, chains)
    if not parts:
        return False
    drawn = np.concatenate(parts)
    off, from_cut = (
        np.hypot(points.x[one, None] - drawn[:, 0], points.y[one, None] - drawn[:, 1]).min(axis=1)
        for one in (gone, cut)
    )
    joined = bool((from_cut < _JOINS * jaw.side).all())
    return joined and bool((off < 2 * _NEAR * jaw.side).mean() > _CLOSED)
