"""From the master to strokes, in order."""

from __future__ import annotations

from concurrent.futures import Executor, ThreadPoolExecutor

import numpy as np
import numpy.typing as npt

from worker.imaging.master import Master
from worker.imaging.outline.canvas import Canvas, read_canvas
from worker.imaging.outline.chains import Chains
from worker.imaging.outline.choosing import COARSER, chosen, faintest, measure, noise_of
from worker.imaging.outline.fitting import Lines, fitted
from worker.imaging.outline.linking import best_neighbours, mutual
from worker.imaging.outline.points import HALO_PX, Points, joined, points_of, slopes_of
from worker.layout.plan import Plan
from worker.layout.spec import Spec
from worker.layout.strokes import Strokes

TILE_PX = 512

Wishes = npt.NDArray[np.int64]


def find_strokes(master: Master, spec: Spec, plan: Plan, *, threads: int = 2) -> Strokes:
    """Lines to trace, in mm of the picture as printed.

    Args:
        master: The reference.
        spec: The job; `spec.tone.outline` says which lines are wanted.
        plan: Its plan.
        threads: How many tiles are worked on at once; it changes nothing of the result.
    """
    with ThreadPoolExecutor(threads) as pool:
        canvas = read_canvas(master, spec, plan, pool)
        return strokes_on(canvas, spec, pool)


def strokes_on(canvas: Canvas, spec: Spec, pool: Executor, tile_px: int = TILE_PX) -> Strokes:
    outline = spec.tone.outline
    noise = noise_of(canvas)
    busy = np.zeros([-(-side // COARSER) for side in canvas.grey.shape], np.float32)
    points, wishes = find_points(canvas, faintest(outline.detail, noise), pool, busy, tile_px)
    measured = measure(canvas, points, busy)
    chains, weight = chosen(canvas, points, mutual(points.key, wishes), measured, outline, noise)
    return _strokes(canvas, points, chains, weight)


def find_points(
    canvas: Canvas, least: float, pool: Executor, busy, tile_px: int = TILE_PX
) -> tuple[Points, Wishes]:
    """All points, and for each side of them the key of the neighbour they wish for."""
    rows, columns = canvas.grey.shape
    tiles = [(top, left) for top in range(0, rows, tile_px) for left in range(0, columns, tile_px)]
    found = list(pool.map(lambda tile: _tile(canvas, tile, tile_px, least, busy), tiles))
    points = [part for part, _ in found]
    wishes = np.concatenate([wish for _, wish in found])
    keys = np.concatenate([part.key for part in points])
    order = np.argsort(keys, kind="stable")
    return joined(points), wishes[order]


def _tile(
    canvas: Canvas, tile: tuple[int, int], tile_px: int, least: float, busy
) -> tuple[Points, Wishes]:
    rows, columns = canvas.grey.shape
    (top, left), halo = tile, HALO_PX
    bottom, right = min(top + tile_px, rows), min(left + tile_px, columns)
    values = canvas.grey[max(top - halo, 0) : bottom + halo, max(left - halo, 0) : right + halo]
    pad = [
        (max(halo - top, 0), max(bottom + halo - rows, 0)),
        (max(halo - left, 0), max(right + halo - columns, 0)),
    ]
    values = np.pad(values, pad, mode="edge")
    slopes = slopes_of(values, left - halo, top - halo, canvas.grey.shape)
    points = points_of(slopes, least)
    core = slopes.steep[
        top - slopes.top : bottom - slopes.top, left - slopes.left : right - slopes.left
    ]
    core = np.pad(core, ((0, -core.shape[0] % COARSER), (0, -core.shape[1] % COARSER)), mode="edge")
    means = (
        core.reshape(-1, COARSER, core.shape[1])
        .sum(axis=1)
        .reshape(-1, core.shape[1] // COARSER, COARSER)
        .sum(axis=2)
        / COARSER**2
    )
    busy[
        top // COARSER : top // COARSER + means.shape[0],
        left // COARSER : left // COARSER + means.shape[1],
    ] = means
    wishes = best_neighbours(points, columns)
    row, column = np.divmod(points.key, columns)
    mine = (row >= top) & (row < bottom) & (column >= left) & (column < right)
    return points.taken(mine), wishes[mine]


def _strokes(
    canvas: Canvas, points: Points, chains: Chains, weight: npt.NDArray[np.uint8]
) -> Strokes:
    places = np.stack(
        (
            (points.x[chains.order].astype(np.float64) + 0.5) * canvas.across_mm,
            (points.y[chains.order].astype(np.float64) + 0.5) * canvas.down_mm,
        ),
        axis=1,
    )
    curves = fitted(Lines(places=places, first=chains.first, closed=chains.closed))
    counts = np.bincount(curves.owner, minlength=len(chains))
    steps = np.hypot(*np.diff(places, axis=0, prepend=places[:1]).T) if len(places) else places
    length = (
        np.add.reduceat(
            np.where(np.isin(np.arange(len(steps)), chains.first[:-1]), 0, steps), chains.first[:-1]
        )
        if len(chains)
        else np.zeros(0)
    )
    return Strokes(
        curves_mm=curves.points.astype(np.float32),
        first=np.concatenate(([0], np.cumsum(counts))).astype(np.int32),
        weight=weight,
        length_mm=length.astype(np.float32),
    )
