"""Patches of tone large enough to lay in: smaller ones join a neighbour.

A patch is what is connected, has one tone and lies on one side of a contour. Patches are found
from runs of equal cells, which are joined row by row; which of them touch, and along how much
border, is then a graph of a few thousand edges, and merging goes on in that graph alone. This is
region merging on an adjacency graph (Haralick and Shapiro 1985).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.tones.edge_preserving import FINE, Fine

Bytes = npt.NDArray[np.uint8]
Labels = npt.NDArray[np.int32]
#: Which side of the contours; two bytes are enough.
Regions = npt.NDArray[np.uint16]
Mask = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]

#: Greys that count as close: one step of print, about 10 L*.
_CLOSE = 25.0
#: What border counts where a contour runs along it.
_ACROSS = 0.25
#: The same where both sides have one tone: a contour that is a cell off the border between two
#: tones leaves slivers of the one on the side of the other, and they change no tone so.
_SAME_TONE = 4.0
#: Patches of one tone that touch along no more cells than this are held together by a neck.
_NECK = 2
_ROWS = 256
#: What joins a patch may leave a neck, which the next pass sees; until nothing changes.
_MOST_PASSES = 6
#: A tip has so many sides, of four, to other tones.
_TIP_SIDES = 3


@dataclass(frozen=True)
class Edges:
    """Patches that touch: the lower and the higher number, and along how many cells."""

    low: Numbers
    high: Numbers
    length: Floats


@dataclass
class _Patches:
    tone: Numbers
    region: Numbers
    area: Numbers
    grey: Floats


def merge_small_areas(
    tones: Bytes, regions: Regions, fine: Fine, means: Floats, least_cells: float
) -> tuple[Bytes, Regions]:
    """Let each patch below an area join the neighbour nearest in tone along most border.

    Args:
        tones: (rows, columns) number of each cell's tone.
        regions: The same shape: which side of the contours each cell is on.
        fine: The greys, in 256ths.
        means: Grey of each tone.
        least_cells: Cells that a patch has at least.

    Returns:
        Tones and regions of the cells; a patch that joins takes both from its neighbour.
    """
    for _ in range(_MOST_PASSES):
        before = tones, regions
        tones, regions = _one_pass(tones, regions, fine, means, least_cells)
        if np.array_equal(before[0], tones) and np.array_equal(before[1], regions):
            break
    return _without_tips(tones, regions)


def _without_tips(tones: Bytes, regions: Regions) -> tuple[Bytes, Regions]:
    """Cells that hang on their patch by one side alone go to the one tone around them.

    Borders are smoothed as they are drawn, which would leave of such a tip a speck.
    """
    found = [_tips(tones, rows) for rows in in_rows(tones.shape)]
    tip, source = (np.concatenate(part) for part in zip(*found, strict=True))
    flat, sides = tones.reshape(-1), regions.reshape(-1)
    flat[tip], sides[tip] = flat[source], sides[source]
    return tones, regions


def _tips(tones: Bytes, rows: slice) -> tuple[Numbers, Numbers]:
    """Such cells of some rows, and a neighbour of each that has the other tone."""
    high, wide = tones.shape
    top = max(rows.start - 1, 0)
    near = np.pad(tones[top : rows.stop + 1], 1, mode="edge")
    # What is beyond the picture's edge goes on as it is there.
    first = rows.start - top + 1
    own = near[first : first + rows.stop - rows.start, 1:-1]
    steps = ((-1, 0), (1, 0), (0, -1), (0, 1))
    around = [
        near[first + down : first + down + len(own), 1 + across : 1 + across + wide]
        for down, across in steps
    ]
    other = np.stack([side != own for side in around])
    row, column = np.nonzero(other.sum(axis=0, dtype=np.uint8) >= _TIP_SIDES)
    said, apart = np.stack([side[row, column] for side in around]), other[:, row, column]
    side = apart.argmax(axis=0)
    # Where they differ, nothing says whose it is.
    one = (said == said[side, np.arange(len(side))]) | ~apart
    row, column, side = (each[one.all(axis=0)] for each in (row, column, side))
    step = np.array(steps)[side]
    row += rows.start
    source = np.clip(row + step[:, 0], 0, high - 1) * wide + np.clip(
        column + step[:, 1], 0, wide - 1
    )
    return row * wide + column, source


def _one_pass(
    tones: Bytes, regions: Regions, fine: Fine, means: Floats, least_cells: float
) -> tuple[Bytes, Regions]:
    blocks = _blocks(tones, regions)
    wide = _wide(blocks)
    labels, count = components(tones, regions, wide, blocks=blocks)
    first = first_cells(labels, count)
    patches = _Patches(
        tone=tones.reshape(-1)[first].astype(np.int64),
        region=regions.reshape(-1)[first].astype(np.int64),
        area=np.zeros(count, np.int64),
        grey=np.zeros(count),
    )
    for rows in in_rows(labels.shape):
        number = labels[rows].reshape(-1)
        patches.area += np.bincount(number, minlength=count)
        patches.grey += np.bincount(number, fine[rows].reshape(-1), count) / FINE
    patches.grey /= patches.area
    edges = touching(labels, count)
    root = _narrow_joined(patches, edges, wide.reshape(-1)[first])
    patches.area = np.bincount(root, patches.area, count).astype(np.int64)
    edges = _relabelled(edges, root, count)
    root = _merged(patches, edges, means, least_cells)[root]
    tone, region = patches.tone[root].astype(np.uint8), patches.region[root].astype(regions.dtype)
    merged = np.empty_like(tones), np.empty_like(regions)
    for rows in in_rows(labels.shape):
        merged[0][rows], merged[1][rows] = tone[labels[rows]], region[labels[rows]]
    return merged


def _blocks(tones: Bytes, regions: Regions) -> Mask:
    """Where a square of two by two begins that is of one patch; (rows - 1, columns - 1)."""
    block = np.ones((tones.shape[0] - 1, tones.shape[1] - 1), np.bool_)
    on, off = slice(1, None), slice(None, -1)
    for corner in ((off, off), (on, off), (off, on)):
        block &= tones[corner] == tones[1:, 1:]
        block &= regions[corner] == regions[1:, 1:]
    return block


def _wide(blocks: Mask) -> Mask:
    """The cells that lie in such a square; (rows, columns).

    A neck of one cell may be gone when it is drawn, so it does not hold a patch together.
    """
    wide = np.zeros((blocks.shape[0] + 1, blocks.shape[1] + 1), np.bool_)
    on, off = slice(1, None), slice(None, -1)
    for place in ((on, on), (off, off), (on, off), (off, on)):
        wide[place] |= blocks
    return wide


def _narrow_joined(patches: _Patches, edges: Edges, wide: Mask) -> Numbers:
    """What is narrow belongs to the largest part of its own patch that it touches."""
    count = len(wide)
    root = np.arange(count)
    source = np.concatenate([edges.low, edges.high])
    target = np.concatenate([edges.high, edges.low])
    own = _alike(patches, source, target) & ~wide[source] & wide[target]
    source, target = source[own], target[own]
    order = np.lexsort((target, patches.area[target], source))
    root[source[order]] = target[order]
    return root


def _alike(patches: _Patches, one: Numbers, other: Numbers) -> Mask:
    same: Mask = patches.tone[one] == patches.tone[other]
    same &= patches.region[one] == patches.region[other]
    return same


def in_rows(shape: tuple[int, ...]) -> Iterator[slice]:
    """Some rows after others: numpy takes eight bytes for each number that it counts by."""
    for top in range(0, shape[0], _ROWS):
        yield slice(top, min(top + _ROWS, shape[0]))


def components(*layers: npt.NDArray[np.generic], blocks: Mask | None = None) -> tuple[Labels, int]:
    """Number what is connected, to four sides, and equal in all layers.

    Args:
        layers: Each (rows, columns).
        blocks: Where given, squares of two by two meet in two cells or not at all: where they
            touch in one, drawing may part them.

    Returns:
        (rows, columns) numbers from 0, in the order of their first cells; and how many.
    """
    labels = np.zeros(layers[0].shape, np.int32)
    begins = np.zeros(labels.shape, np.bool_)
    begins[1:, 0] = True
    for values in layers:
        begins[:, 1:] |= values[:, 1:] != values[:, :-1]
    if blocks is not None:
        begins[:, 1:] |= _apart(blocks.T).T
    for rows in in_rows(labels.shape):
        before = labels[rows.start - 1, -1] if rows.start else 0
        runs = np.cumsum(begins[rows].reshape(-1), dtype=np.int32) + before
        labels[rows] = runs.reshape(labels[rows].shape)
    # Two runs one above the other begin to touch where either begins.
    begins[:, 0] = True
    meet = begins[1:] | begins[:-1]
    del begins
    for values in layers:
        meet &= values[1:] == values[:-1]
    if blocks is not None:
        meet &= ~_apart(blocks)
    number = joined(int(labels[-1, -1]) + 1, labels[:-1][meet], labels[1:][meet])
    del meet
    found, dense = np.unique(number, return_inverse=True)
    for rows in in_rows(labels.shape):
        labels[rows] = dense[labels[rows]]
    return labels, len(found)


def _apart(blocks: Mask) -> Mask:
    """Where two cells one above the other are in squares, but in none together."""
    wide = _wide(blocks)
    apart: Mask = wide[1:] & wide[:-1]
    apart[:, :-1] &= ~blocks
    apart[:, 1:] &= ~blocks
    return apart


def joined(count: int, one: npt.NDArray[np.integer], other: npt.NDArray[np.integer]) -> Numbers:
    """The lowest number that each of `count` is connected with, by pairs."""
    root = np.arange(count)
    one, other = one.astype(np.int64), other.astype(np.int64)
    while len(one):
        np.minimum.at(root, np.maximum(one, other), np.minimum(one, other))
        root = settled(root)
        one, other = root[one], root[other]
        apart = one != other
        one, other = one[apart], other[apart]
    return root


def settled(root: Numbers) -> Numbers:
    """Follow each number to where it ends."""
    while True:
        further = root[root]
        if np.array_equal(further, root):
            return root
        root = further


def touching(labels: Labels, count: int) -> Edges:
    """Which numbered patches touch, and along how many cells."""
    codes = []
    for one, other in ((labels[:, :-1], labels[:, 1:]), (labels[:-1], labels[1:])):
        apart = one != other
        a, b = one[apart].astype(np.int64), other[apart].astype(np.int64)
        codes.append(np.minimum(a, b) * count + np.maximum(a, b))
    code, length = np.unique(np.concatenate(codes), return_counts=True)
    return Edges(code // count, code % count, length.astype(np.float64))


def first_cells(labels: Labels, count: int) -> Numbers:
    """The first cell of each patch, which is where its number comes up first."""
    first = np.zeros(count, np.int64)
    before = -1
    for rows in in_rows(labels.shape):
        flat = labels[rows].reshape(-1)
        highest = np.maximum(np.maximum.accumulate(flat), before)
        new = np.flatnonzero(np.diff(highest, prepend=before))
        first[flat[new]] = new + rows.start * labels.shape[1]
        before = int(highest[-1])
    return first


def _merged(patches: _Patches, edges: Edges, means: Floats, least: float) -> Numbers:
    """Which patch each becomes part of; areas are changed on the way."""
    count = len(patches.area)
    root = np.arange(count)
    while True:
        step = _joining(patches, edges, means, least)
        moved = np.flatnonzero(step != np.arange(count))
        if not len(moved):
            return root
        step = settled(step)
        edges = _relabelled(edges, step, count)
        # What has become alike and touches is one patch from now on.
        alike = _alike(patches, edges.low, edges.high) & (edges.length > _NECK)
        step = joined(count, edges.low[alike], edges.high[alike])[step]
        edges = _relabelled(edges, step, count)
        patches.area = np.bincount(step, patches.area, count).astype(np.int64)
        root = step[root]


def _joining(patches: _Patches, edges: Edges, means: Floats, least: float) -> Numbers:
    """For each small patch the neighbour that it joins now; the others stay.

    It waits while that neighbour is smaller than itself, so none goes round in a circle.
    """
    count = len(patches.area)
    source = np.concatenate([edges.low, edges.high])
    target = np.concatenate([edges.high, edges.low])
    length = np.concatenate([edges.length, edges.length])
    small = patches.area[source] < least
    source, target, length = source[small], target[small], length[small]
    off = np.abs(patches.grey[source] - means[patches.tone[target]])
    worth = length / (_CLOSE + off) * _CLOSE
    across = patches.region[source] != patches.region[target]
    own = patches.tone[source] == patches.tone[target]
    worth[across] *= np.where(own[across], _SAME_TONE, _ACROSS)
    # It is apart from its own tone, or it would be no patch.
    worth[own & ~across] = 0.0
    order = np.lexsort((target, worth, source))
    last = np.flatnonzero(np.diff(source[order], append=-1))
    source, target = source[order][last], target[order][last]
    larger = (patches.area[target] > patches.area[source]) | (
        (patches.area[target] == patches.area[source]) & (target > source)
    )
    step = np.arange(count)
    step[source[larger]] = target[larger]
    return step


def _relabelled(edges: Edges, step: Numbers, count: int) -> Edges:
    """The same edges between what patches have become."""
    one, other = step[edges.low], step[edges.high]
    apart = one != other
    low, high = np.minimum(one, other)[apart], np.maximum(one, other)[apart]
    code, place = np.unique(low * count + high, return_inverse=True)
    return Edges(
        code // count,
        code % count,
        np.bincount(place, edges.length[apart], len(code)).astype(np.float64),
    )
