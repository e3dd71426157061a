"""Patches of tone large enough to lay in: smaller ones join a neighbour.

A patch is what is connected, has one tone and lies on one side of a contour. Patches are found
from runs of equal cells, which are joined row by row; which of them touch, and along how much
border, is then a graph of a few thousand edges, and merging goes on in that graph alone. This is
region merging on an adjacency graph (Haralick and Shapiro 1985).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.tones.edge_preserving import FINE, Fine

Bytes = npt.NDArray[np.uint8]
Labels = npt.NDArray[np.int32]
Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]

#: Greys that count as close: one step of print, about 10 L*.
_CLOSE = 25.0
#: What border counts where a contour runs along it.
_ACROSS = 0.25
#: So many tones and more are told apart from regions in one number.
_TONES = 8
#: Rows whose greys are summed at once: numpy takes eight bytes for each.
_ROWS = 256
#: What joins a patch may leave a neck, which the next pass sees.
_PASSES = 2


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
    tones: Bytes, regions: Labels, fine: Fine, means: Floats, least_cells: float
) -> tuple[Bytes, Labels]:
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
    for _ in range(_PASSES):
        tones, regions = _one_pass(tones, regions, fine, means, least_cells)
    return tones, regions


def _one_pass(
    tones: Bytes, regions: Labels, fine: Fine, means: Floats, least_cells: float
) -> tuple[Bytes, Labels]:
    labels, count = _wide_components(regions * np.int32(_TONES) + tones)
    first = first_cells(labels, count)
    patches = _Patches(
        tone=tones.reshape(-1)[first].astype(np.int64),
        region=regions.reshape(-1)[first].astype(np.int64),
        area=np.bincount(labels.reshape(-1), minlength=count),
        grey=_grey_sums(labels, fine, count),
    )
    patches.grey /= patches.area
    root = _merged(patches, touching(labels, count), means, least_cells)
    tone, region = patches.tone[root].astype(np.uint8), patches.region[root].astype(np.int32)
    return tone[labels], region[labels]


def _wide_components(values: Labels) -> tuple[Labels, int]:
    """The same as `components`, of what is connected by more than a cell's width.

    A neck of one cell may be gone when it is drawn, so it does not hold a patch together; what
    lies in no square of two cells by two is numbered apart.
    """
    block = values[1:, 1:] == values[:-1, :-1]
    block &= values[1:, :-1] == values[:-1, 1:]
    block &= values[1:, 1:] == values[1:, :-1]
    wide = np.zeros(values.shape, np.bool_)
    for corner in (np.s_[1:, 1:], np.s_[:-1, :-1], np.s_[1:, :-1], np.s_[:-1, 1:]):
        wide[corner] |= block
    return components(values * np.int32(2) + wide)


def components(values: Labels) -> tuple[Labels, int]:
    """Number what is connected, to four sides, and equal.

    Args:
        values: (rows, columns).

    Returns:
        (rows, columns) numbers from 0, in the order of their first cells; and how many.
    """
    begins = np.ones(values.shape, np.bool_)
    begins[:, 1:] = values[:, 1:] != values[:, :-1]
    runs = np.cumsum(begins.reshape(-1), dtype=np.int32).reshape(values.shape)
    runs -= 1
    # Two runs one above the other begin to touch where either begins.
    meet = (values[1:] == values[:-1]) & (begins[1:] | begins[:-1])
    number = joined(int(runs[-1, -1]) + 1, runs[:-1][meet], runs[1:][meet])
    found, dense = np.unique(number, return_inverse=True)
    return dense.astype(np.int32)[runs], len(found)


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
    """A cell of each patch."""
    first = np.zeros(count, np.int64)
    flat = labels.reshape(-1)
    first[flat[::-1]] = np.arange(flat.size - 1, -1, -1, dtype=np.int32)
    return first


def _grey_sums(labels: Labels, fine: Fine, count: int) -> Floats:
    total = np.zeros(count)
    for top in range(0, len(labels), _ROWS):
        rows = slice(top, top + _ROWS)
        total += np.bincount(labels[rows].reshape(-1), fine[rows].reshape(-1), count)
    return total / FINE


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
        alike = (patches.tone[edges.low] == patches.tone[edges.high]) & (
            patches.region[edges.low] == patches.region[edges.high]
        )
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
    worth[patches.region[source] != patches.region[target]] *= _ACROSS
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
