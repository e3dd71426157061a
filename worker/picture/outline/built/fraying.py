"""Fray of upright edges: quoins, a creeper, or shade of bricks beside the corner of a wall.

The reading has them as a line of their own, which waves beside one that is ruled. A draughtsman
draws the straight one alone (common practice). What lies is another matter: eaves have tiles and
gutters, which are drawn.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.built.belonging import BuiltLines
from worker.picture.outline.points.nearness import within
from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, courses, dots

#: A line waves if it turns by so many degrees in a mm, in such steps; and is upright if its ends
#: are no further beside each other than this part of their distance.
_WAVES_DEG, _STEP_MM, _UPRIGHT = 1.5, 3.0, 0.25
#: It is fray if it is worth less than this, and so much of it has a line beside it within so many
#: mm that is as parallel by this cosine, over so many mm to either side.
_WORTHY, _MOSTLY, _BESIDE_MM, _PARALLEL, _COURSE_MM = 0.8, 0.6, 7.0, 0.93, 15.0
#: That is straight: over these mm its course is the same, by this cosine.
_NEAR_COURSE_MM, _STRAIGHT = 6.0, 0.998


def fraying(built: BuiltLines) -> Flags:
    """Which lines wave beside one that is ruled.

    Args:
        built: The lines.
    """
    may = (built.worth < _WORTHY) & _upright(built.lines)
    if not may.any():
        return may
    thin, at = _thinned(built.whole)
    may &= _waves_deg(thin)[: len(may)] > _WAVES_DEG
    far, near = (courses(thin, over) for over in (_COURSE_MM, _NEAR_COURSE_MM))
    ruled = np.append(built.straight, np.ones(len(built.others.places), np.bool_))[at]
    ruled &= dots(far, near) > _STRAIGHT
    owner = thin.owner
    asked, straight = np.flatnonzero(np.isin(owner, np.flatnonzero(may))), np.flatnonzero(ruled)
    one, two = within(thin.places[asked], thin.places[straight], _BESIDE_MM)
    one, two = asked[one], straight[two]
    along = np.abs(dots(far[one], far[two])) > _PARALLEL
    beside = np.zeros(len(at), np.bool_)
    beside[one[along & (owner[one] != owner[two])]] = True
    share = np.bincount(owner, beside) / np.diff(thin.first)
    return np.asarray(may & (share[: len(may)] > _MOSTLY))


def _thinned(lines: Polylines) -> tuple[Polylines, Ints]:
    """Lines through some of their places, the first of each among them; and which these are."""
    every = max(round(_STEP_MM / max(lines.usual_step_mm, 1e-9)), 1)
    some = (np.arange(len(lines.places)) - lines.first[lines.owner]) % every == 0
    at = np.flatnonzero(some)
    first = np.concatenate(([0], np.cumsum(some)))[lines.first]
    return Polylines(places=lines.places[at], first=first, closed=lines.closed), at


def _upright(lines: Polylines) -> Flags:
    """Which lines run up or down, from end to end; rings do not."""
    way = lines.places[lines.first[1:] - 1] - lines.places[lines.first[:-1]]
    return np.asarray(~lines.closed & (np.abs(way[:, 0]) < _UPRIGHT * np.hypot(*way.T)))


def _waves_deg(lines: Polylines) -> Floats:
    """By how many degrees lines turn in a mm, to whatever side, from place to place."""
    step = np.diff(lines.places[:, 0] + 1j * lines.places[:, 1])
    turn, owner = np.abs(np.angle(step[1:] * step[:-1].conj())), lines.owner
    one_line = owner[2:] == owner[:-2]
    turns = np.bincount(owner[2:][one_line], turn[one_line], len(lines.closed))
    return np.asarray(np.degrees(turns) / np.maximum(lines.lengths_mm, 1e-9))
