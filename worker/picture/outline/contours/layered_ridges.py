"""Ridges of all maps of a reading, in pixels of the picture's grid.

Where there are finer maps, their ridges take the place of those of the coarser ones. For a line
that runs from one to the other, the coarser map is given what the finer ones see, so that both
have it in the same place where it is cut, and its parts are joined there.
"""

from __future__ import annotations

import math

import numpy as np

from worker.picture.outline.contours.contour_ridges import RidgeLines, ridge_lines
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.contours.ridge_places import Flags
from worker.picture.outline.points.bridging import joined_chains
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import CONTOUR, Points
from worker.spec.reading import Bytes, Maps

#: A pixel of a coarser map is the mean of so many places each way in the finer one.
_MEAN_OF = 2
#: Ends this near are joined where maps change, in pixels of the coarsest.
_JOINED_MAP_PX = 4.0


def layered_ridges(placed: PlacedReading, name: str) -> RidgeLines:
    """The ridges of a map, each where its layer is the finest.

    Args:
        placed: The reading.
        name: One of `worker.spec.reading.MAPS`.
    """
    parts = []
    for number, layer in enumerate(placed.layers):
        lines = ridge_lines(_with_finer(placed, number, name))
        x, y = layer.to_grid(lines.x, lines.y)
        parts.append(RidgeLines(x=x, y=y, first=lines.first, closed=lines.closed))
    if len(parts) == 1:
        return parts[0]
    own = [_cut(lines, placed.layer(lines.x, lines.y) == at) for at, lines in enumerate(parts)]
    return _joined(own, _JOINED_MAP_PX * placed.layers[0].map_px)


def _with_finer(placed: PlacedReading, number: int, name: str) -> Bytes:
    """The map of a layer, with what finer ones see in it."""
    layer, finer = placed.layers[number], placed.layers[number + 1 :]
    values: Bytes = getattr(layer.maps, name)
    if not finer:
        return values
    values = values.copy()
    inside = (np.arange(_MEAN_OF) - (_MEAN_OF - 1) / 2) / _MEAN_OF
    for part in finer:
        rows, columns = _covered(layer.maps, part.maps)
        down = (np.arange(rows.start, rows.stop)[:, None] + inside).ravel()
        across = (np.arange(columns.start, columns.stop)[:, None] + inside).ravel()
        y, x = (each.ravel() for each in np.meshgrid(down, across, indexing="ij"))
        seen = placed.sampled(name, *layer.to_grid(x.astype(np.float32), y.astype(np.float32)))
        cells = seen.reshape(len(down) // _MEAN_OF, _MEAN_OF, len(across) // _MEAN_OF, _MEAN_OF)
        values[rows, columns] = np.rint(255 * cells.mean(axis=(1, 3)))
    return values


def _covered(coarse: Maps, fine: Maps) -> tuple[slice, slice]:
    """Rows and columns of a coarser map that a finer one lies over wholly or in part."""
    (rows, columns), whole, area = coarse.contour.shape, coarse.area, fine.area

    def between(start: float, length: float, count: int) -> slice:
        low, high = math.floor(start * count), math.ceil((start + length) * count)
        return slice(min(max(low, 0), count), min(max(high, 0), count))

    return (
        between((area.top - whole.top) / whole.height, area.height / whole.height, rows),
        between((area.left - whole.left) / whole.width, area.width / whole.width, columns),
    )


def _cut(lines: RidgeLines, mine: Flags) -> RidgeLines:
    """The parts of lines that are kept, as lines of two places and more."""
    order, owner = (
        np.arange(len(mine)),
        np.repeat(np.arange(len(lines.closed)), np.diff(lines.first)),
    )
    whole = np.bincount(owner, ~mine, len(lines.closed)) == 0
    for ring in np.flatnonzero(lines.closed & ~whole):
        # It begins where it is not kept, so that no part of it is cut in two.
        places = np.arange(lines.first[ring], lines.first[ring + 1] - 1)
        turned = np.roll(places, -int(np.argmin(mine[places])))
        order[places], order[places[-1] + 1] = turned, turned[0]
    kept = mine[order]
    part = np.cumsum((np.diff(owner, prepend=-1) != 0) | np.diff(kept, prepend=True)) - 1
    kept &= (np.bincount(part, kept) > 1)[part] if len(part) else kept
    first = np.unique(part[kept], return_index=True)[1]
    of_line = owner[kept][first]
    return RidgeLines(
        x=lines.x[order[kept]],
        y=lines.y[order[kept]],
        first=np.append(first, int(kept.sum())).astype(np.int64),
        closed=(lines.closed & whole)[of_line],
    )


def _joined(parts: list[RidgeLines], reach_px: float) -> RidgeLines:
    """The lines of all layers, joined where one ends and one of another layer begins."""
    x, y = np.concatenate([each.x for each in parts]), np.concatenate([each.y for each in parts])
    counts = np.concatenate([np.diff(each.first) for each in parts])
    closed = np.concatenate([each.closed for each in parts])
    layer = np.repeat(np.arange(len(parts)), [len(each.x) for each in parts])
    first = np.concatenate(([0], np.cumsum(counts)))
    own = Chains(order=np.arange(len(x)), first=first, closed=closed)
    nothing, none = np.zeros(len(x), np.float32), np.zeros(len(x), np.int32)
    points = Points(
        key=none,
        x=x,
        y=y,
        across_x=nothing,
        across_y=nothing,
        contrast=nothing,
        chroma=nothing,
        kind=np.full(len(x), CONTOUR, np.uint8),
    )
    chains, _ = joined_chains(points, own, reach_px=reach_px, group=layer)
    return RidgeLines(
        x=x[chains.order], y=y[chains.order], first=chains.first, closed=chains.closed
    )
