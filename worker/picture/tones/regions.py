"""Patches of tone wide enough to fill: narrower ones are merged into the tones around them.

A patch keeps the places where a brush of a given width, a disc, fits inside it (morphological
opening, Serra 1982). All other cells (specks, necks, and the thin bands of middle tones along a
sharp edge) take the tone beside them that is nearest to their own grey. Every patch then has a
place as wide as the brush.
"""

from __future__ import annotations

import itertools
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from worker.picture.tones.edge_preserving import FINE, Fine

Bytes = npt.NDArray[np.uint8]
Mask = npt.NDArray[np.bool_]
#: Indices into the flat array: half the bytes of numpy's own.
Places = npt.NDArray[np.int32]
Cell = TypeVar("Cell", np.uint8, np.bool_, np.int32)

#: A cell that has no tone yet.
_OPEN = np.uint8(255)
#: The same, already queued.
_WAITING = np.uint8(253)
#: The padding around the picture: no tone, and never filled.
_RIM = np.uint8(254)
#: Openings may leave new narrow places where patches grew together; these are the rounds that
#: are spent on them.
ROUNDS = 4
#: Open cells that are looked at together.
_CHUNK = 1 << 17
#: Of the steps that grow an octagon like a disc, this share goes to all eight sides.
_SQUARE_SHARE = 0.414


def merge_small_patches(
    tones: Bytes, fine: Fine, means: npt.NDArray[np.float64], reach: int
) -> Bytes:
    """Merge patches that are nowhere `2 * reach + 1` cells wide into their neighbours.

    Args:
        tones: (rows, columns) number of each cell's tone.
        fine: The greys, in 256ths.
        means: Grey of each tone.
        reach: Radius of the brush in cells.
    """
    now = tones
    del tones
    if reach == 0:
        return now
    for each in _reaches(reach):
        kept = _opened(now, each)
        if not kept.any():
            return np.full_like(now, np.abs(means - fine.mean() / FINE).argmin())
        if not kept.all():
            now = fill_from_neighbours(now, kept, fine, means)
    # Narrow ends of patches may be left; what hangs on no patch may not.
    kept = _opened(now, reach)
    if not kept.any():
        return now
    kept = _connected(now, kept)
    return fill_from_neighbours(now, kept, fine, means)


def remove_specks(tones: Bytes, reach: int, steps: int) -> Bytes:
    """Remove dots and hairs from a drawn picture; the result depends on nearby pixels alone.

    Args:
        tones: (rows, columns) number of each pixel's tone.
        reach: Radius of the brush in pixels: where it fits, nothing changes, nor where it
            fits nowhere at all.
        steps: How far the narrow end of a patch may go beyond the brush.
    """
    kept = _connected(tones, _opened(tones, reach), steps)
    if kept.all() or not kept.any():
        return tones
    fine = tones.astype(np.uint16) * np.uint16(FINE)
    return fill_from_neighbours(
        tones, kept, fine, np.arange(int(tones.max()) + 1, dtype=np.float64)
    )


def _reaches(reach: int) -> list[int]:
    """Brushes from small to large, so that small patches join before large ones are judged.

    These are alternating sequential filters (Serra 1988).
    """
    finer = itertools.takewhile(lambda each: each < reach, (1 << n for n in itertools.count()))
    return [*finer, *[reach] * ROUNDS]


def _opened(tones: Bytes, reach: int) -> Mask:
    """The cells that a brush inside their patch reaches."""
    border = np.zeros(tones.shape, np.bool_)
    across, down = tones[:, 1:] != tones[:, :-1], tones[1:] != tones[:-1]
    border[:, 1:] |= across
    border[:, :-1] |= across
    border[1:] |= down
    border[:-1] |= down
    # Cells at a border are inside their patch: the brush covers them with its last step, which
    # goes to four sides only and so cannot slip past a corner.
    centres = ~dilated(border, reach - 1)
    return dilated(dilated(centres, reach - 1), 1)


def dilated(mask: Mask, reach: int) -> Mask:
    """All cells within an octagon of this radius around those given."""
    squares = round(reach * _SQUARE_SHARE)
    for step in range(reach):
        across = mask.copy()
        across[:, 1:] |= mask[:, :-1]
        across[:, :-1] |= mask[:, 1:]
        source = across if step < squares else mask
        down = across
        below, above = source[:-1].copy(), source[1:].copy()
        down[1:] |= below
        down[:-1] |= above
        mask = down
    return mask


def _connected(tones: Bytes, kept: Mask, steps: int | None = None) -> Mask:
    """The kept cells, and those of their tone that are connected to them.

    `steps` limits how far from a kept cell; None: no limit.
    """
    edge = Padded(tones.shape)
    tone, reached = edge.around(tones, fill=_RIM), edge.around(kept, fill=False)
    # Neither the rim nor what is reached is ever looked at again.
    closed = reached | (tone == _RIM)
    place = edge.front(~closed, reached)
    for _ in itertools.count() if steps is None else range(steps):
        joins = np.zeros(len(place), np.bool_)
        for step in edge.beside:
            near = place + step
            joins |= reached[near] & (tone[near] == tone[place])
        joined = place[joins]
        if not len(joined):
            break
        reached[joined] = closed[joined] = True
        place = edge.next_to(joined, closed, np.False_, np.True_)
        closed[place] = False
    return edge.inside(reached)


def fill_from_neighbours(
    tones: Bytes, kept: Mask, fine: Fine, means: npt.NDArray[np.float64]
) -> Bytes:
    """Let the kept patches grow, cell by cell, over what is not kept."""
    edge = Padded(tones.shape)
    tone = edge.around(np.where(kept, tones, _OPEN), fill=_RIM)
    greys = fine.reshape(-1)
    far = np.append(means, np.full(256 - len(means), np.inf)).astype(np.float32)
    place = edge.front(tone == _OPEN, tone < _WAITING)
    while len(place):
        found = np.empty(len(place), np.uint8)
        for start in range(0, len(place), _CHUNK):
            part = slice(start, start + _CHUNK)
            near = tone[place[part, np.newaxis] + edge.beside]
            own = greys[edge.cell(place[part])].astype(np.float32) / FINE
            nearest = np.abs(far[near] - own[:, np.newaxis]).argmin(axis=1)
            found[part] = near[np.arange(len(near)), nearest]
        tone[place] = found
        # Only beside what was just filled is there anything to fill next: so a wide field
        # without any patch takes no longer than many narrow ones.
        place = edge.next_to(place, tone, _OPEN, _WAITING)
    return edge.inside(tone)


class Padded:
    """Cells as one flat array, padded by one cell so that neighbours need no bounds check.

    Attributes:
        beside: Where a cell's four neighbours are from it.
    """

    def __init__(self, shape: tuple[int, ...]) -> None:
        self._shape = shape
        self._width = shape[1] + 2
        self.beside = np.array([-self._width, -1, 1, self._width], np.int32)

    def around(self, cells: npt.NDArray[Cell], *, fill: Cell | bool) -> npt.NDArray[Cell]:
        """Cells with a rim that holds `fill`, flat."""
        return np.pad(cells, 1, constant_values=fill).reshape(-1)

    def inside(self, flat: npt.NDArray[Cell]) -> npt.NDArray[Cell]:
        """What `around` was given, from what has become of it."""
        return flat.reshape(-1, self._width)[1:-1, 1:-1].copy()

    def cell(self, place: Places) -> Places:
        """Which cells some places are, counted without the rim."""
        row, column = np.divmod(place, np.int32(self._width))
        return (row - 1) * np.int32(self._width - 2) + column - 1

    def front(self, wanted: Mask, there: Mask) -> Places:
        """The places that are wanted and lie beside one that is there already."""
        beside = np.zeros(len(there), np.bool_)
        for step in (1, self._width):
            beside[step:] |= there[:-step]
            beside[:-step] |= there[step:]
        beside &= wanted
        return np.flatnonzero(beside).astype(np.int32)

    def next_to(self, place: Places, state: npt.NDArray[Cell], free: Cell, taken: Cell) -> Places:
        """The places beside some others whose state is free, each once; they become taken.

        Sorting them, to find those that come twice, took most of the time of a textured photo.
        """
        found = []
        for start in range(0, len(place), _CHUNK):
            for step in self.beside:
                near = place[start : start + _CHUNK] + step
                near = near[state[near] == free]
                state[near] = taken
                found.append(near)
        return np.concatenate(found)
