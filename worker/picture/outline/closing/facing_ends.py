"""Ends of lines that face each other over a gap, and what is read between them.

Fur, blur and dark leave gaps in outer contours that are longer than a way is followed from one end
alone (`ways_on`).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.closing.outer_ways import OuterWays
from worker.picture.outline.closing.painted_lines import PaintedLines
from worker.picture.outline.closing.way_strips import Complex, Doubles, WayStrips, read, sides
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.fairing.gap_curves import hermite
from worker.picture.outline.points.nearness import within

#: Ends are so far apart at most, in pixels of the map and in parts of both lines' lengths; lines
#: point where they do over so many pixels.
_FAR_PX, _OF_LINES, _COURSE_PX = 100.0, 0.8, 9.0
#: They face each other if the lesser cosine to the way between them is more than this, and both
#: together than the second; and turn to one side, but for so little, which is a sine.
_FACE, _BOTH_FACE, _OTHER_SIDE = 0.35, 1.1, 0.35
#: What is between an end and so many that it faces is looked at: where lines are dense, work would
#: grow with their square.
_PARTNERS = 8
#: A strip has so many columns and rows; to either side it is as wide as this part of the gap and a
#: little more, but no wider than the last.
_COLUMNS, _ROWS, _WIDE, _MORE_PX, _WIDEST_PX = 48, 25, 0.25, 2.0, 15.0
#: A way is drawn if it is so likely in the mean, and everywhere but beside its ends; so likely to
#: bound a form; one of its sides so likely of what the picture is of, and the other by so much less
#: at least; and no longer than the curve by this part.
_LIKELY, _LEAST_LIKELY, _BESIDE_ENDS = 0.55, 0.35, 2
_BOUNDS, _SUBJECT, _STEP, _LONGER = 0.5, 0.65, 0.06, 1.12

_Ints = npt.NDArray[np.int64]
_Flags = npt.NDArray[np.bool_]


def facing_ends(placed: PlacedReading, lines: PaintedLines, ends: _Ints) -> OuterWays:
    """Ways between ends that may be drawn.

    Args:
        placed: The reading.
        lines: All drawn lines, in the maps of the whole, whose places are their points.
        ends: Places that are ends and meet nothing.
    """
    one, two, curve = _pairs(lines, ends)
    which = _outer(placed, curve, 0)
    which[which] = _nearest(one[which], two[which], np.abs(curve[which, -1] - curve[which, 0]))
    one, two, curve = one[which], two[which], curve[which]
    half = np.minimum(_WIDE * np.abs(curve[:, -1] - curve[:, 0]) + _MORE_PX, _WIDEST_PX)
    way, likely = WayStrips(placed=placed, curve=curve, half=half, rows=_ROWS).likeliest()
    inner = likely[:, _BESIDE_ENDS:-_BESIDE_ENDS]
    mean = inner.mean(axis=1)
    good = (mean > _LIKELY) & (inner.min(axis=1, initial=1) > _LEAST_LIKELY)
    good &= _lengths(way) < _LONGER * _lengths(curve)
    outer = read(placed, "outer", way[good])
    bounds = (outer * likely[good]).sum(axis=1) > _BOUNDS * likely[good].sum(axis=1)
    good[good] = bounds & _outer(placed, way[good], _STEP)
    return OuterWays(end=one[good], met=two[good], likely=mean[good], way=way[good])


def _pairs(lines: PaintedLines, ends: _Ints) -> tuple[_Ints, _Ints, Complex]:
    """Ends that face each other, and the curve from each to the other that goes on from either."""
    place = lines.x[ends].astype(np.float64) + 1j * lines.y[ends]
    out_x, out_y = lines.outwards(ends, _COURSE_PX)
    out = out_x.astype(np.float64) + 1j * out_y
    at = np.stack((place.real, place.imag), axis=1)
    one, two = within(at, at, _FAR_PX)
    one, two = one[one < two], two[one < two]
    way = place[two] - place[one]
    facing = _facing(way, out[one], out[two])
    owner = lines.chains.owner[ends]
    length = lines.chains.lengths(lines.x, lines.y)[owner]
    both = length[one] + np.where(owner[one] == owner[two], 0, length[two])
    facing &= (np.abs(way) > 1) & (np.abs(way) < _OF_LINES * both)
    one, two, far = one[facing], two[facing], np.abs(way[facing, None])
    from_to = (place[one, None], place[two, None])
    share = np.linspace(0, 1, _COLUMNS)
    curve: Complex = hermite(share, from_to, (far * out[one, None], -far * out[two, None]))
    return ends[one], ends[two], curve


def _facing(way: Complex, out: Complex, other: Complex) -> _Flags:
    """Whether ends that point so face each other across ways from the first to the second."""
    chord = way / np.maximum(np.abs(way), 1e-9)
    leaves, comes = out.conj() * chord, -chord.conj() * other
    to_one_side = leaves.imag * comes.imag > 0
    to_one_side |= np.minimum(np.abs(leaves.imag), np.abs(comes.imag)) < _OTHER_SIDE
    near = (np.minimum(leaves.real, comes.real) > _FACE) & to_one_side
    return np.asarray(near & (leaves.real + comes.real > _BOTH_FACE))


def _nearest(one: _Ints, two: _Ints, far: Doubles) -> _Flags:
    """Which pairs are among the nearest of either end."""
    end, pair = np.concatenate((one, two)), np.tile(np.arange(len(one)), 2)
    order = np.lexsort((far[pair], end))
    end, found = end[order], np.zeros(len(one), np.bool_)
    rank = np.arange(len(end)) - np.searchsorted(end, end)
    found[pair[order[rank < _PARTNERS]]] = True
    return found


def _outer(placed: PlacedReading, way: Complex, step: float) -> _Flags:
    """Which ways have what the picture is of on one side, by such a step more than on the other."""
    one, two = (side.mean(axis=1) for side in sides(placed, way))
    return np.asarray((np.maximum(one, two) > _SUBJECT) & (np.abs(one - two) >= step))


def _lengths(way: Complex) -> Doubles:
    return np.asarray(np.abs(np.diff(way, axis=1)).sum(axis=1))
