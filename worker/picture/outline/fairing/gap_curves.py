"""Places in gaps: a line that was joined across a gap runs through it as a curve.

Hermite's curve takes its directions from the line on both sides, as a hand that draws on.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines

#: Each (any, 2), or complex.
_Places = npt.NDArray[Any]
#: A step that is so many times the usual one is a gap.
_GAP_STEPS = 2.5
#: Places before and after a gap that give it its directions.
_DIRECTION_REACH = 6


def filled(
    lines: Polylines, known_mm: Floats, stays: Flags, usual_mm: float
) -> tuple[Polylines, Floats, Flags]:
    """Lines with places in their gaps.

    Args:
        lines: Through points, in mm of the picture.
        known_mm: How near to its line each place is; in gaps as at the worse end.
        stays: Places that stay where they are; in gaps if both ends do.
        usual_mm: The usual step from place to place.
    """
    step_mm = np.hypot(*np.diff(lines.places, axis=0).T)
    step_mm[lines.first[1:-1] - 1] = 0
    before = np.flatnonzero(step_mm > _GAP_STEPS * usual_mm)
    if not len(before):
        return lines, known_mm, stays
    after = before + 1
    many = np.rint(step_mm[before] / usual_mm).astype(np.int64) - 1
    at = np.repeat(after, many)
    counts = np.diff(lines.first) + np.bincount(lines.owner[at], minlength=len(lines.closed))
    gap = np.repeat(np.arange(len(before)), many)
    return (
        Polylines(
            places=np.insert(lines.places, at, _between(lines, before, many), axis=0),
            first=np.concatenate(([0], np.cumsum(counts))),
            closed=lines.closed,
        ),
        np.insert(known_mm, at, np.maximum(known_mm[before], known_mm[after])[gap]),
        np.insert(stays, at, (stays[before] & stays[after])[gap]),
    )


def _between(lines: Polylines, before: Ints, many: Ints) -> Floats:
    """So many places of the curve over each gap, which begins after a place."""
    places, owner = lines.places, lines.owner
    one, two = places[before], places[before + 1]
    far_before = places[np.maximum(before - _DIRECTION_REACH, lines.first[owner[before]])]
    last = lines.first[owner[before] + 1] - 1
    far_after = places[np.minimum(before + 1 + _DIRECTION_REACH, last)]
    out, into = _along(one - far_before, two - one), _along(far_after - two, two - one)
    gap = np.repeat(np.arange(len(before)), many)
    at = np.arange(len(gap)) - np.repeat(np.cumsum(many) - many, many) + 1
    t = (at / (many[gap] + 1))[:, None]
    return hermite(t, (one[gap], two[gap]), (out[gap], into[gap]))


def hermite(t: Floats, ends: tuple[_Places, _Places], ways: tuple[_Places, _Places]) -> _Places:
    """Places of Hermite's cubic at shares of the way from one end to the other.

    Args:
        t: The shares, 0 to 1.
        ends: Where it begins and ends.
        ways: How it leaves the first and comes to the second, each as long as the whole way is.
    """
    (one, two), (out, into) = ends, ways
    between = (1 + 2 * t) * (1 - t) ** 2 * one + t * t * (3 - 2 * t) * two
    return np.asarray(between + t * (1 - t) ** 2 * out - t * t * (1 - t) * into)


def _along(way: Floats, chord: Floats) -> Floats:
    """A direction with the length of a gap; that of the gap where a line has none."""
    far = np.hypot(*way.T)[:, None]
    long = np.hypot(*chord.T)[:, None]
    return np.where(far > 0, way * (long / np.maximum(far, 1e-9)), chord)
