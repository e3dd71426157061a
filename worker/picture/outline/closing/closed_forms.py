"""Drawn lines go on along the reading, so that forms that are whole in it are closed.

Where lines meet and at corners a band of the map has no direction, and where it is weak over a few
millimetres its ridge is broken: so lines end short of those that they belong to. A draughtsman
closes such forms (common practice). A line becomes one with another whose end it comes to, and
ends exactly on any other.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from worker.picture.outline.closing.going_on import Drawn, gone_on
from worker.picture.outline.closing.outer_arches import outer_arches
from worker.picture.outline.closing.painted_lines import PaintedLines
from worker.picture.outline.closing.ways_on import WaysOn, ways_on
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.detected_points import DetectedPoints
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import CONTOUR

#: Ways are so far apart, in pixels of the map.
_APART_PX = 1.5
#: What is likelier than this to bound a form goes on, in a face and elsewhere.
_BOUNDS_IN_FACE, _BOUNDS = 0.5, 0.3

_Ints = npt.NDArray[np.int64]
_Flags = npt.NDArray[np.bool_]
_Weights = npt.NDArray[np.uint8]


def closed_forms(
    detected: DetectedPoints, chains: Chains, weight: _Weights
) -> tuple[DetectedPoints, Chains, _Weights]:
    """Lines with the ways on which they go on.

    Args:
        detected: All points.
        chains: Lines that are drawn.
        weight: Of each.

    Returns:
        The points of lines; the lines with their ways, and their weights.
    """
    points = detected.points
    drawn = Drawn(chains=chains, weight=weight, x=points.x, y=points.y, like=chains.order[:0])
    detected, chains, weight = _of_lines(detected, closed(detected.placed, drawn))
    kept = ~outer_arches(detected, chains)
    return detected, chains.taken(kept), weight[kept]


def closed(placed: PlacedReading, drawn: Drawn) -> Drawn:
    """Lines that go on along a reading, from all of their ends that meet nothing.

    Args:
        placed: The reading.
        drawn: The lines.
    """
    ends = _open_ends(drawn.chains)
    ends = ends[~_folds(placed, drawn, ends)]
    if not len(ends):
        return drawn
    ways = _end_to_end(_all_ways(placed, drawn, ends))
    return gone_on(drawn, ways.taken(_chosen(ways, placed)))


def _of_lines(detected: DetectedPoints, drawn: Drawn) -> tuple[DetectedPoints, Chains, _Weights]:
    """What is known of the points of lines; of ways it is that of where they start."""
    chains, count = drawn.chains, len(detected.points)
    used = np.zeros(len(drawn.x), bool)
    used[chains.order] = used[count:] = True
    own = np.flatnonzero(used[:count])
    detected = detected.taken(np.concatenate((own, drawn.like)))
    new = np.arange(len(detected.points)) >= len(own)
    points = detected.points
    nothing = np.float32(0)
    points = replace(
        points,
        x=np.concatenate((points.x[~new], drawn.x[count:])),
        y=np.concatenate((points.y[~new], drawn.y[count:])),
        contrast=np.where(new, nothing, points.contrast),
        chroma=np.where(new, nothing, points.chroma),
        kind=np.where(new, np.uint8(CONTOUR), points.kind),
    )
    order = (np.cumsum(used) - 1)[chains.order]
    return (
        replace(detected, points=points),
        Chains(order=order, first=chains.first, closed=chains.closed),
        drawn.weight,
    )


def _open_ends(chains: Chains) -> _Ints:
    """Places that are ends of lines and meet no other."""
    ends = np.concatenate((chains.first[:-1][~chains.closed], chains.first[1:][~chains.closed] - 1))
    return np.asarray(ends[np.bincount(chains.order)[chains.order[ends]] == 1])


def _folds(placed: PlacedReading, drawn: Drawn, ends: _Ints) -> _Flags:
    """Ends of what hardly bounds anything: folds run out, above all those of faces."""
    point = drawn.chains.order[ends]
    x, y = drawn.x[point], drawn.y[point]
    least = np.where(placed.face_px(x, y) > 0, np.float32(_BOUNDS_IN_FACE), np.float32(_BOUNDS))
    return placed.sampled("outer", x, y) < least


def _all_ways(placed: PlacedReading, drawn: Drawn, ends: _Ints) -> WaysOn:
    """All ways from ends, each over the finest maps there."""
    chains = drawn.chains
    x, y = drawn.x[chains.order], drawn.y[chains.order]
    number = placed.layer(x[ends], y[ends])
    parts = np.unique(number).tolist()
    layers = [placed.layers[part] for part in parts]
    lines = [PaintedLines.on(layer, chains, x, y) for layer in layers]
    parts = ways_on(layers, lines, [ends[number == part] for part in parts], placed.subject)
    return WaysOn(
        **{
            name: np.concatenate([getattr(part, name) for part in parts])
            for name in WaysOn.__dataclass_fields__
        }
    )


def _chosen(ways: WaysOn, placed: PlacedReading) -> _Flags:
    """The likeliest ways, each end once, none across another, nor to what gives way to another."""
    # One grid of cells for the ways of all layers.
    side = placed.map_px(ways.x[:, 0], ways.y[:, 0]).min(initial=np.inf) * _APART_PX
    low, high = ways.replaced()
    used: set[int] = set()
    taken: set[tuple[int, int]] = set()
    chosen = np.zeros(len(ways.end), bool)
    for way in np.argsort(-ways.likely, kind="stable").tolist():
        ends = [int(ways.end[way]), *([int(ways.near[way])] if ways.joins[way] else [])]
        column = np.rint(ways.x[way, : ways.count[way]] / side).astype(int).tolist()
        row = np.rint(ways.y[way, : ways.count[way]] / side).astype(int).tolist()
        cells = set(zip(column, row, strict=True))
        if used.intersection(ends) or len(set(ends)) < len(ends) or taken & cells:
            continue
        met = ways.met[chosen & ~ways.joins, None]
        gone = (ways.met[way] >= low[chosen]) & (ways.met[way] <= high[chosen])
        hangs = ~ways.joins[way] & gone.any()
        if hangs or ((met >= low[way]) & (met <= high[way])).any():
            continue
        used.update(ends)
        taken |= cells
        chosen[way] = True
    return chosen


def _end_to_end(ways: WaysOn) -> WaysOn:
    """Ways with those between two ends that pass each other straightened."""
    by_end = dict(zip(ways.end.tolist(), range(len(ways.end)), strict=True))
    other = np.array([by_end.get(int(end), -1) for end in ways.near], np.int64)
    passing = (other >= 0) & ~ways.joins & (ways.near[other] == ways.end)
    return replace(
        ways,
        met=np.where(passing, ways.near, ways.met),
        joins=ways.joins | passing,
        count=np.where(passing, 0, ways.count),
    )
