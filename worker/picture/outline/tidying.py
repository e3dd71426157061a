"""What a draughtsman makes of the rest: forms closed, strokes drawn once, and none of nothing.

Of two lines that run beside each other, nearer than two pencil lines can, the better one is drawn.
A faint one that runs from one drawn line to another is drawn with them, so that forms close, and
one that is less faint where it goes on from one. A short line that no other continues or meets, and
that is no closed form, says nothing of a form: it is a tuft, a leaf or a spot of light. Nor does
one that the reading hardly has, and that is little better than what is left out, unless it goes on
in others at both ends or encloses something with them. Behind a figure lines are few and long: all
of these hold for longer ones, and of some that run beside each other one is drawn.
"""

from __future__ import annotations

from functools import partial

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.contour_lines import APART_MM
from worker.picture.outline.judging import CONTOURS, TEXTURE, Flags, Lines, finer
from worker.picture.outline.points.bridging import Ends, ends_of
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.nearness import groups, pairs_within
from worker.picture.outline.points.running_beside import beside_better

_Ints = npt.NDArray[np.int64]
_Doubles = npt.NDArray[np.float64]
#: A line that is worth so much of what is needed, and so long, closes a form where both its ends
#: lie within so far of what is drawn, and its middle no nearer than that: it is drawn too. What
#: closes one with such a line does as well, so many times.
_CLOSES, _CLOSING_MM, _CLOSES_MM, _BESIDE_MM, _CLOSING_ROUNDS, _BOTH = 0.4, 3.6, 2.5, 1.8, 3, 2
#: So is one that goes on from what is drawn at one end, where it is worth so much and so long
#: (hysteresis: Canny, "A computational approach to edge detection", PAMI 1986).
_GOES_ON, _GOING_ON_MM = 0.6, 20.0
#: A line is drawn twice where so much of it runs beside a better one, and so parallel.
_MOSTLY, _PARALLEL = 0.6, 0.85
#: Beside a line that is so many times better, one is left out within this as well: a strand along
#: hair, a rim of light, a shade along an edge, a fold's other side. A draughtsman draws one of them
#: (common practice). From this length on, in a large face, it is more likely to be an edge of
#: something narrow, and needs a line that is better still.
_ALONG_MM, _BETTER, _FAR_BETTER, _LONG_MM = 3.5, 3.0, 4.0, 30.0
#: What is behind, as it must be so many times as long, has one line within so many mm.
_BEHIND, _BEHIND_MM = 2.0, 7.0
#: In a face a line bounds something from so many levels on.
_BOUNDS_LEVELS = 8.0
#: One point in so many is looked at, or in so many millimetres; and of what it may run along, one
#: in these; of that behind a figure, one in so many.
_EVERY, _EVERY_MM, _OTHER_MM, _FEWER_BEHIND = 3, 1.2, 0.5, 4
#: A line says something by itself from the first length on; one that the reading is so sure of not
#: being there, from the second; and one that it is surer of than this, as of a nostril, in any.
_ALONE_MM, _UNREAD_ALONE_MM, _SURELY_NONE, _SURELY = 8.0, 16.0, 0.4, 0.7
#: One that the reading hardly has says something from this length on, or if it is worth so much;
#: or encloses something with others, if it is likelier than the second or worth more.
_CRUMB_MM, _WORTHY, _HARDLY_READ = 14.0, 1.8, 0.7
_HALF_READ, _HALF_WORTHY = 0.35, 1.5
#: So does any line that stands out from what is around it as letters do from their ground.
_PLAIN_SCORE = 45.0
#: Two ends belong together within this distance, if they point at each other so well; an end meets
#: another line within the shorter one.
_GOES_ON_MM, _FACING, _MEETS_MM = 6.0, 0.7, 2.0


def doubled(points: Points, lines: Lines, pitch_mm: float, detail: float) -> Flags:
    """Which lines run beside a better one nearly everywhere; fewer as texture is wanted."""
    chains, less = lines.chains, without_texture(detail)
    if not len(chains):
        return np.zeros(0, bool)
    owner, at = chains.owner, np.arange(len(chains.order))
    some = at[:: max(_EVERY, round(_EVERY_MM / pitch_mm))]
    others = at[:: max(1, round(_OTHER_MM / pitch_mm))]
    along_mm = APART_MM + (_ALONG_MM - APART_MM) * less
    value = lines.worth * np.sqrt(lines.length_mm)
    better = partial(beside_better, points, chains, _rank(value), cosine=_PARALLEL)
    one, two, far = better((some, others), reach_px=along_mm / pitch_mm)
    short = lines.length_mm < np.float32(_LONG_MM) * finer(lines.face_mm)
    better_by = np.where(short, np.float32(_BETTER), np.float32(_FAR_BETTER))
    far_better = value[owner[two]] > (better_by * value)[owner[one]]
    # What bounds a head or a part of it stays, however near a better line is.
    bounds = (lines.face_mm > 0) & (lines.bounded > np.float32(_BOUNDS_LEVELS))
    far_better &= ~bounds[owner[one]]
    beside = np.zeros(len(at), bool)
    beside[one[(far < np.float32(APART_MM / pitch_mm)) | far_better]] = True
    behind = some[(lines.scale * less > np.float32(_BEHIND))[owner[some]]]
    pairs = (behind, others[::_FEWER_BEHIND])
    beside[better(pairs, reach_px=_BEHIND_MM / pitch_mm)[0]] = True
    count = np.bincount(owner[some], minlength=len(chains))
    return np.asarray(np.bincount(owner, beside, len(chains)) > _MOSTLY * np.maximum(count, 1))


def _rank(value: Floats) -> _Ints:
    """Of each line, the better the higher; of two that are as good the first counts."""
    rank = np.empty(len(value), np.int64)
    rank[np.lexsort((-np.arange(len(value)), value))] = np.arange(len(value))
    return rank


def orphans(points: Points, lines: Lines, pitch_mm: float, detail: float) -> Flags:
    """Which lines are short, open, and belong to no other; fewer as texture is wanted."""
    less = without_texture(detail)
    alone = np.where(_tufts(lines), np.float32(_UNREAD_ALONE_MM), np.float32(_ALONE_MM))
    short = lines.length_mm < less * alone * lines.scale
    short &= ~lines.chains.closed & (lines.likely < np.float32(_SURELY))
    short &= lines.score < np.float32(_PLAIN_SCORE)
    if not short.any():
        return np.asarray(short)
    # What belongs to lines that are orphans together is one all the same, unless it adds up.
    group, together = _grouped(points, lines, pitch_mm)
    only_short = np.bincount(group, ~short)[group] == 0
    return np.asarray(short & only_short & (together < less * alone * lines.scale))


def crumbs(points: Points, lines: Lines, pitch_mm: float, detail: float) -> Flags:
    """Which lines are short and hardly any of the reading's; fewer as texture is wanted.

    Where the reading knows nothing there are none, nor in faces and plain forms.
    """
    short = (
        lines.length_mm
        < np.float32(_CRUMB_MM * without_texture(detail)) * lines.known * lines.scale
    )
    short &= (lines.likely < np.float32(_HARDLY_READ)) & (lines.worth < np.float32(_WORTHY))
    short &= (lines.face_mm == 0) & (lines.plain == 0)
    ends, (one, two) = _continuing(points, lines, pitch_mm)
    on = np.zeros(len(ends.line), bool)
    on[one[~short[ends.line[two]]]] = True
    short &= np.bincount(ends.line[on], minlength=len(short)) < _BOTH
    may_be = (lines.likely > np.float32(_HALF_READ)) | (lines.worth > np.float32(_HALF_WORTHY))
    return np.asarray(short & ~(may_be & _enclosing(points, ends, pitch_mm, len(short))))


def without_texture(detail: float) -> float:
    """1 where contours alone are wanted, 0 where texture is too."""
    return min(max((TEXTURE - detail) / (TEXTURE - CONTOURS), 0.0), 1.0)


def together_mm(points: Points, lines: Lines, pitch_mm: float) -> Floats:
    """How long each line is with all that continue or meet it, over any number of lines."""
    return np.asarray(_grouped(points, lines, pitch_mm)[1], np.float32)


def connecting(points: Points, lines: Lines, kept: Flags, pitch_mm: float) -> Flags:
    """Which lines close what is drawn: each runs from one kept line to another, or on from it."""
    chains, found = lines.chains, np.zeros(len(lines.worth), bool)
    middle = chains.order[(chains.first[:-1] + chains.first[1:]) // 2]
    ends, (one, two) = _continuing(points, lines, pitch_mm)
    open_to = (lines.worth > np.float32(_CLOSES)) & ~kept & (lines.length_mm > _CLOSING_MM)
    may_go_on = (lines.worth > np.float32(_GOES_ON)) & (lines.length_mm > _GOING_ON_MM) & open_to
    for _ in range(_CLOSING_ROUNDS):
        drawn = chains.order[np.repeat(kept | found, chains.counts)]
        asked = np.flatnonzero(open_to[ends.line] & ~found[ends.line])
        near, _ = pairs_within(points, ends.point[asked], drawn, _CLOSES_MM / pitch_mm)
        met = np.zeros(len(ends.point), bool)
        met[asked[near]] = True
        on = np.zeros(len(ends.point), bool)
        on[one[(kept | found)[ends.line[two]]]] = True
        both = np.bincount(ends.line[met | on], minlength=len(found)) == _BOTH
        both &= open_to & ~found
        both |= (np.bincount(ends.line[on], minlength=len(found)) > 0) & may_go_on & ~found
        # One whose middle is as near runs beside what is drawn and closes nothing.
        asked = np.flatnonzero(both)
        beside, _ = pairs_within(points, middle[asked], drawn, _BESIDE_MM / pitch_mm)
        both[asked[beside]] = False
        if not both.any():
            break
        found |= both
    return found


def _tufts(lines: Lines) -> Flags:
    """Lines of which the reading is sure that there is none, outside of faces."""
    return np.asarray((lines.beside > np.float32(_SURELY_NONE)) & (lines.face_mm == 0))


def _enclosing(points: Points, ends: Ends, pitch_mm: float, count: int) -> Flags:
    """Which of so many lines meet an end of a line with both of theirs, be it their own.

    A ring does, and each of the two halves of a small form.
    """
    one, two = pairs_within(points, ends.point, ends.point, _MEETS_MM / pitch_mm)
    met = np.zeros(len(ends.line), bool)
    met[one[one != two]] = True
    return np.asarray(np.bincount(ends.line[met], minlength=count) == _BOTH)


def _continuing(points: Points, lines: Lines, pitch_mm: float) -> tuple[Ends, tuple[_Ints, _Ints]]:
    """Ends of lines, and pairs of which the first goes on in the second."""
    ends = ends_of(points, lines.chains)
    one, two = pairs_within(points, ends.point, ends.point, _GOES_ON_MM / pitch_mm)
    a, b = ends.point[one], ends.point[two]
    dx, dy = points.x[b] - points.x[a], points.y[b] - points.y[a]
    far = np.hypot(dx, dy) + np.float32(1e-6)
    leave = (dx * ends.out_x[one] + dy * ends.out_y[one]) / far
    facing = -(ends.out_x[one] * ends.out_x[two] + ends.out_y[one] * ends.out_y[two])
    on = (np.minimum(leave, facing) > np.float32(_FACING)) & (ends.line[one] != ends.line[two])
    return ends, (one[on], two[on])


def _neighbours(points: Points, lines: Lines, pitch_mm: float) -> tuple[_Ints, _Ints]:
    """Pairs of lines that continue or meet each other."""
    chains = lines.chains
    ends, (one, two) = _continuing(points, lines, pitch_mm)
    near, at = pairs_within(points, ends.point, chains.order, _MEETS_MM / pitch_mm)
    from_line, to_line = ends.line[near], chains.owner[at]
    # What the reading does not have and stands on a line that it has is a tuft along it.
    meets = (lines.length_mm[to_line] > 2 * lines.length_mm[from_line]) & ~_tufts(lines)[from_line]
    return (
        np.concatenate((ends.line[one], from_line[meets])),
        np.concatenate((ends.line[two], to_line[meets])),
    )


def _grouped(points: Points, lines: Lines, pitch_mm: float) -> tuple[_Ints, _Doubles]:
    """What each line belongs to with all that continue or meet it, and how long that is, in mm."""
    group = groups(len(lines.worth), *_neighbours(points, lines, pitch_mm))
    return group, np.asarray(np.bincount(group, lines.length_mm)[group], np.float64)
