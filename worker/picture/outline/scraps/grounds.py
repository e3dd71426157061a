"""Which lines are scraps of a ground: of grain, grass, bark, or leaves within a crown.

Nobody traces the inside of a crown (common practice): its outline says it all. A line is of a
ground if both its sides are alike as wholes, and have as much texture as they and it have contrast.
So a path between grasses is none, though both its sides are rough, nor is a crown before a sky.
A ground's line is drawn if it is long with all that continue or meet it, or is a ring, or if the
reading is sure of it.

Cracks of bark, blades and fur run beside each other, several within some millimetres: a draughtsman
draws the longest of them, and no more than one within a finger's breadth (common practice).

What is loose says less than what is of an outline, and a stray line costs a sheet more than a
lesser one that is missing. So a short line that belongs to nothing is worth more, or is no line.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.detected_points import DetectedPoints
from worker.picture.outline.judging import CONTOURS, Flags, Lines, needed_likely
from worker.picture.outline.points.nearness import ends_met, pairs_within
from worker.picture.outline.tidying import together_mm, without_texture

_Ints = npt.NDArray[np.int64]
#: From so much texture on, beside what parts both sides, a line is of a ground, and wholly so at
#: the second. Contrast of the line itself counts so much beside that of its sides.
_ROUGH, _ROUGHEST, _OWN = 0.3, 0.55, 0.9
#: Below this likelihood a line may be a scrap, and is wholly doubtful at the second; and so below
#: this worth.
_LIKELY, _DOUBTFUL, _WORTHY, _LITTLE_WORTH = 0.8, 0.55, 2.0, 1.6
#: A line that is wholly of a ground and doubtful is this long with all that it belongs to.
_TOGETHER_MM = 150.0
#: Less contrast than so many levels is taken for as many.
_LEAST_LEVELS = 1.0
#: What is more than this of a figure, where there is one, is of no ground; nor is what the reading
#: knows no more than this of.
_IN_FIGURE, _KNOWN = 0.5, 0.5
#: A line is a streak where so many others run beside it within so many mm, and so parallel, along
#: more than this part of it; beside a longer one that is drawn within the second distance, which is
#: less as texture is wanted, it is left out. What is straighter than this is of something built, or
#: stands; and what bounds what the picture is of more than that is no streak.
_OTHERS, _STREAKS_MM, _PARALLEL, _MOSTLY, _APART_MM = 2, 10.0, 0.85, 0.5, 8.0
_STRAIGHT, _BOUNDS = 0.985, 0.4
#: Nor is what is likelier than this an outer contour, or as likely or worthy as no scrap is.
_OUTER = 0.65
#: One place in so many mm is looked at, and so many at a time: each may have hundreds around.
_EVERY_MM, _AT_ONCE = 1.5, 4000
#: What with all that it goes on in is shorter than this, and has no other line within the second
#: of both its ends, is loose, unless it turns around something: from end to end it is less than
#: this part of its length.
_LOOSE_MM, _MEETS_MM, _ROUND = 60.0, 2.5, 0.75
#: It is worth so much if it bounds forms by fewer levels where contrast is as usual; and so much if
#: both sides differ by no more than the first levels, less up to the second.
#: Neither need it where all around is smooth: the slopes of that are no more than this part of it.
_SOFT_WORTH, _SOFT_LEVELS, _ALIKE_WORTH, _ALIKE, _APART = 1.5, 22.0, 1.8, 10.0, 30.0
_SMOOTH = 0.5
#: So is one that stands on another and is shorter than this; what does so with both ends stays.
_SPUR_MM, _BOTH = 25.0, 2


def scraps(detected: DetectedPoints, lines: Lines, detail: float) -> Flags:
    """Which lines are scraps of a ground; fewer as texture is wanted.

    Where the reading knows nothing there are none, nor in figures, faces and plain forms.

    Args:
        detected: All points.
        lines: Those that would be drawn.
        detail: As the spec's.
    """
    return np.asarray(_of_ground(detected, lines, detail) | _streaks(detected, lines, detail))


def _of_ground(detected: DetectedPoints, lines: Lines, detail: float) -> Flags:
    """Which lines have the same rough ground on both sides."""
    chains, measures = lines.chains, detected.measures
    own = chains.means(np.maximum(detected.points.total, measures.form))
    parts = np.maximum(chains.means(measures.apart), np.float32(_OWN) * own)
    rough = chains.means(measures.quieter) / np.maximum(parts, np.float32(_LEAST_LEVELS))
    ground = np.clip((rough - _ROUGH) / (_ROUGHEST - _ROUGH), 0, 1)
    doubt = np.clip((_LIKELY - lines.likely) / (_LIKELY - _DOUBTFUL), 0, 1)
    doubt *= np.clip((_WORTHY - lines.worth) / (_WORTHY - _LITTLE_WORTH), 0, 1)
    shortest = _TOGETHER_MM * without_texture(detail) * lines.known * ground * doubt
    open_lines = ~chains.closed & (lines.plain == 0) & (lines.face_mm == 0)
    if detected.prominence.head.any():
        open_lines &= chains.means(detected.prominence.figure) < np.float32(_IN_FIGURE)
    may_be = open_lines & (shortest > 0)
    if not may_be.any():
        return np.asarray(may_be)
    together = together_mm(detected.points, lines, detected.grid.pitch_mm)
    return np.asarray(may_be & (together < shortest))


def _streaks(detected: DetectedPoints, lines: Lines, detail: float) -> Flags:
    """Which of several lines that run beside each other are left out."""
    points, chains, pitch_mm = detected.points, lines.chains, detected.grid.pitch_mm
    less, count = without_texture(detail), len(chains)
    may_be = ~chains.closed & (lines.plain == 0) & (lines.face_mm == 0)
    may_be &= lines.known > np.float32(_KNOWN)
    if detected.prominence.head.any():
        may_be &= chains.means(detected.prominence.figure) < np.float32(_IN_FIGURE)
    may_be &= chains.means(detected.evidence.outer) < np.float32(_OUTER)
    may_be &= (lines.likely < np.float32(_LIKELY)) & (lines.worth < np.float32(_WORTHY))
    may_be &= chains.means(detected.prominence.bounds) < np.float32(_BOUNDS)
    far_px = chains.spans(points.x, points.y)
    may_be &= far_px * np.float32(pitch_mm) < np.float32(_STRAIGHT) * lines.length_mm
    goes = np.zeros(count, bool)
    every = max(1, round(_EVERY_MM / pitch_mm))
    some = np.arange(0, len(chains.order), every)
    asked = some[may_be[chains.owner[some]]]
    if not less or not len(asked):
        return goes
    place, other, near = _beside(detected, lines, (asked, some), less * _APART_MM)
    owner = chains.owner[asked]
    total = np.maximum(np.bincount(owner, minlength=count), 1)
    among = np.bincount(place, minlength=len(asked)) >= _OTHERS
    streak = may_be & (np.bincount(owner, among, count) > _MOSTLY * total)
    place, other = place[near], other[near]
    value = lines.length_mm * lines.worth
    # Places ascend, and so do their lines.
    first = np.searchsorted(owner[place], np.arange(count + 1))
    for line in np.flatnonzero(streak)[np.argsort(value[streak], kind="stable")]:
        own = slice(first[line], first[line + 1])
        beside = ~goes[other[own]] & (value[other[own]] >= value[line])
        goes[line] = len(np.unique(place[own][beside])) > _MOSTLY * total[line]
    return goes


def _beside(
    detected: DetectedPoints, lines: Lines, places: tuple[_Ints, _Ints], apart_mm: float
) -> tuple[_Ints, _Ints, Flags]:
    """Which places have which other lines beside them, each once, and whether these are near.

    Args:
        detected: All points.
        lines: Those that would be drawn.
        places: Those in the lines' order that are asked of, and those they may be beside.
        apart_mm: How near that is.

    Returns:
        Numbers of places that are asked of, ascending; the other lines; whether they are near.
    """
    asked, some = places
    parts = []
    for first in range(0, len(asked), _AT_ONCE):
        part = (asked[first : first + _AT_ONCE], some)
        one, other, near = _beside_some(detected, lines, part, apart_mm)
        parts.append((first + one, other, near))
    one, other, near = (np.concatenate(each) for each in zip(*parts, strict=True))
    return one, other, near


def _beside_some(
    detected: DetectedPoints, lines: Lines, places: tuple[_Ints, _Ints], apart_mm: float
) -> tuple[_Ints, _Ints, Flags]:
    """The same of so few places that all pairs with them may be held."""
    points, chains, pitch_mm = detected.points, lines.chains, detected.grid.pitch_mm
    asked, some = places
    a, b = chains.order[asked], chains.order[some]
    one, two = pairs_within(points, a, b, _STREAKS_MM / pitch_mm)
    alike = points.across_x[a[one]] * points.across_x[b[two]]
    alike += points.across_y[a[one]] * points.across_y[b[two]]
    other = chains.owner[some[two]]
    good = (np.abs(alike) > np.float32(_PARALLEL)) & (other != chains.owner[asked[one]])
    one, two, other = one[good], two[good], other[good]
    far = np.hypot(points.x[a[one]] - points.x[b[two]], points.y[a[one]] - points.y[b[two]])
    near = far < np.float32(apart_mm / pitch_mm)
    # Those that are near first, so that each pair of a place and a line is near if it is anywhere.
    key = one * len(chains) + other
    nearest = np.argsort(~near, kind="stable")
    _, first = np.unique(key[nearest], return_index=True)
    kept = nearest[first]
    return one[kept], other[kept], near[kept]


def loose(detected: DetectedPoints, lines: Lines, detail: float) -> Flags:
    """Which lines are short, worth little, and belong to no other; fewer as texture is wanted.

    Where the reading knows nothing there are none, nor in heads and plain forms.

    Args:
        detected: All points.
        lines: Those that would be drawn.
        detail: As the spec's.
    """
    points, chains, pitch_mm = detected.points, lines.chains, detected.grid.pitch_mm
    head = detected.prominence.head
    alike = np.clip((_APART - chains.means(detected.measures.apart)) / (_APART - _ALIKE), 0, 1)
    soft = lines.bounded < np.float32(_SOFT_LEVELS) * chains.means(detected.prominence.usual)
    least = np.maximum(1 + (_ALIKE_WORTH - 1) * alike, np.where(soft, _SOFT_WORTH, 0))
    # Where fewer lines are wanted, each is worth more already.
    least *= needed_likely(CONTOURS) / needed_likely(detail)
    doubtful = (lines.worth < least) & (lines.known > np.float32(_KNOWN))
    rough = chains.means(detected.measures.texture) > _SMOOTH * chains.means(points.total)
    doubtful &= rough & (lines.face_mm == 0)
    doubtful &= ~chains.closed & (lines.plain == 0)
    doubtful &= chains.means(head) < np.float32(_IN_FIGURE)
    far_px = chains.spans(points.x, points.y)
    doubtful &= far_px * np.float32(pitch_mm) > np.float32(_ROUND) * lines.length_mm
    shortest = _LOOSE_MM * without_texture(detail)
    doubtful &= lines.length_mm < shortest
    if not doubtful.any():
        return np.asarray(doubtful)
    many = ends_met(points, chains, doubtful, _MEETS_MM / pitch_mm)
    spur = (many == 1) & (lines.length_mm < np.float32(_SPUR_MM * without_texture(detail)))
    alone = together_mm(points, lines, pitch_mm) < shortest
    return np.asarray(doubtful & (many < _BOTH) & (alone | spur))
