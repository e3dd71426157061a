"""Lines run as fair as it is known where they pass: what is doubtful of a line is not drawn.

Grain, texture and the coarse map of the reading move the places of a line to and fro over some
millimetres and make it tremble, where a draughtsman draws one stroke (common practice). So every
place is taken from the smoothest of some means along the line from which no place around is further
than it is known. A corner, a tooth of a leaf, a knuckle that is plainly there stays: means that
miss it are not taken, nor are means over a way that turns as a whole.
"""

from __future__ import annotations

from concurrent.futures import Executor

import numpy as np

from worker.picture.outline.fairing.gap_curves import filled
from worker.picture.outline.fairing.ways import Ways
from worker.picture.outline.polylines import (
    Flags,
    Floats,
    Ints,
    Polylines,
    corners,
    dots,
    in_parts,
    joined_lines,
)

#: Means along a line are taken over places so many steps apart, each so many times after those
#: before it. They keep cubics: of the binomial of the fourth degree its fourth difference is
#: taken off.
_STRIDES, _ROUNDS = (1, 2, 4, 8, 16), 4
_MIDDLE, _NEXT, _OVER_NEXT = 10 / 16, 4 / 16, -1 / 16
#: What is shorter than so many strides is levelled; longer waves than this are forms.
_WAVE, _LONGEST_MM = 4.6, 45.0
#: A mean must fit so many strides to either side, and over twice as many not be longer than from
#: end to end by more than this part of its length.
_AROUND, _MOST_TURNED = 3, 0.27
#: It is taken less and less over the last part of the way to where it does not fit.
_NEARLY = 0.25
#: From one mean to another a line goes over in so many places to either side.
_OVER = 8
#: A corner stays if it stands off the way from so many steps before to as many after by more than
#: so many times what is known.
_CORNER_REACH, _STANDS = 10, 2.0

#: As `Ways.mirrored` has it.
_Mirrored = tuple[Ints, Ints, Ints]
_Complex = np.ndarray[tuple[int, ...], np.dtype[np.complex128]]


def faired(
    lines: Polylines, known_mm: Floats, stays: Flags, pool: Executor | None = None
) -> Polylines:
    """Lines that do not tremble, with places in gaps.

    Args:
        lines: Through points, in mm of the picture.
        known_mm: How near to its line each place is.
        stays: Places that stay where they are, as those of ruled lines.
        pool: Where some lines at a time are faired, if given; the result does not depend on it.
    """
    if not len(lines.closed):
        return lines
    step_mm = lines.usual_step_mm

    def part_of(each: tuple[int, slice, Polylines]) -> Polylines:
        _, which, part = each
        return _faired(part, known_mm[which], stays[which], step_mm)

    return joined_lines(*(pool.map if pool else map)(part_of, in_parts(lines)))


def _faired(lines: Polylines, known_mm: Floats, stays: Flags, step_mm: float) -> Polylines:
    lines, known_mm, stays = filled(lines, known_mm, stays, step_mm)
    known_mm = Ways.of(lines, stays).means_within(known_mm, _OVER)
    stays = stays | _standing(lines, known_mm)
    places = _smoothest(lines, Ways.of(lines, stays), known_mm, step_mm)
    moved = np.stack((places.real, places.imag), axis=1)
    return Polylines(
        places=np.where(stays[:, None], lines.places, moved), first=lines.first, closed=lines.closed
    )


def _smoothest(lines: Polylines, ways: Ways, known_mm: Floats, step_mm: float) -> _Complex:
    """Each place by the smoothest mean that fits around it; between two it goes over gradually."""
    start = mean = places = lines.places[:, 0] + 1j * lines.places[:, 1]
    fits: Floats = np.ones(len(start))
    over_next = _mirrored(ways, _STRIDES[0])
    for stride in _STRIDES:
        if _WAVE * stride * step_mm > _LONGEST_MM:
            break
        # Each stride is twice the last one.
        following, over_next = over_next, _mirrored(ways, 2 * stride)
        before, mean = mean, _mean(mean, following, over_next)
        off = np.abs(mean - start) / known_mm
        off = np.maximum(off, _turned(mean, ways, 2 * _AROUND * stride) / _MOST_TURNED)
        off = ways.most_within(off, _AROUND * stride + _OVER)
        fits = np.minimum(fits, np.clip((1 - off) / _NEARLY, 0, 1))
        if not fits.any():
            break
        places = places + ways.means_within(fits, _OVER) * (mean - before)
    return places


def _mirrored(ways: Ways, steps: int) -> tuple[_Mirrored, _Mirrored]:
    """What is so many steps before each place, and after it."""
    return ways.mirrored(-steps), ways.mirrored(steps)


def _mean(
    places: _Complex,
    following: tuple[_Mirrored, _Mirrored],
    over_next: tuple[_Mirrored, _Mirrored],
) -> _Complex:
    """The mean over what is a stride away and two, some times."""
    around = [(side, _NEXT) for side in following] + [(side, _OVER_NEXT) for side in over_next]
    for _ in range(_ROUNDS):
        mean = _MIDDLE * places
        for (at, beyond, about), weight in around:
            there = places.take(at)
            there[beyond] = 2 * places.take(about) - there.take(beyond)
            there *= weight
            mean += there
        places = mean
    return places


def _turned(places: _Complex, ways: Ways, reach: int) -> Floats:
    """How much shorter than the way over so many steps to either side is that from end to end."""
    one, two = ways.reached(-reach), ways.reached(reach)
    along = np.cumsum(np.abs(np.diff(places, prepend=places[:1])))
    length = along.take(two) - along.take(one)
    length += np.where(two < one, along.take(ways.end) - along.take(ways.begin), 0)
    turned = 1 - np.abs(places.take(two) - places.take(one)) / np.maximum(length, 1e-9)
    # What is more than half of a ring turns.
    half = ways.ring & (4 * reach > ways.end - ways.begin)
    return np.asarray(np.where(half, 1.0, turned))


def _standing(lines: Polylines, known_mm: Floats) -> Flags:
    """Corners that are plainly there."""
    owner, at = lines.owner, np.arange(len(lines.places))
    begin, end = lines.first.take(owner), lines.first.take(owner + 1) - 1
    before = lines.places.take(np.maximum(at - _CORNER_REACH, begin), axis=0)
    chord = lines.places.take(np.minimum(at + _CORNER_REACH, end), axis=0) - before
    way = lines.places - before
    share = dots(way, chord) / np.maximum(dots(chord, chord), 1e-9)
    off = np.hypot(*(way - np.clip(share, 0, 1)[:, None] * chord).T)
    return np.asarray(corners(lines) & (off > _STANDS * known_mm))
