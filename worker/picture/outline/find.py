"""From the master to strokes, in order.

Everything that is dense is done tile by tile, on threads; what is kept of a tile are points.
A point depends only on its surroundings, which each tile has whole, so where tiles end changes
nothing, and threads never do. From points on, all lines are worked on at once.
"""

from __future__ import annotations

from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from worker.picture.outline.canvas import HUE_PX, Bytes, Canvas, Grid, read_canvas
from worker.picture.outline.chains import Chains
from worker.picture.outline.colour_edges import hue_slopes, with_hues
from worker.picture.outline.curve_fitting import fitted
from worker.picture.outline.edge_points import HALO_PX, Points, Slopes, joined, points_of, slopes_of
from worker.picture.outline.evidence import (
    COARSER,
    Busy,
    hue_noise_of,
    mean_squares,
    measure_points,
    noise_of,
)
from worker.picture.outline.jpeg_blocks import block_step, hue_block_step
from worker.picture.outline.line_smoothing import Lines
from worker.picture.outline.linking import Ids, Keys, best_neighbours, mutual
from worker.picture.outline.selection import Disturbance, Found, chosen, faintest
from worker.picture.outline.smoothing import Floats
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Outline, Spec
from worker.spec.strokes import Strokes

#: A multiple of the squares that texture is told by. Smaller ones have more surroundings than
#: picture, larger ones do not stay in a processor's cache.
TILE_PX = 512
#: Points that are linked and judged: on 60 × 40 cm some 90 m of line, more than anybody traces.
#: Grain and fine stripes give more, and each takes hundreds of bytes on the way; then the
#: faintest go.
MOST_POINTS = 350_000
#: The same for one tile, in points a pixel, so that they are never held at all.
DENSEST = 0.12

#: Top, left, bottom, right, in pixels.
_Box = tuple[int, int, int, int]


@dataclass(frozen=True)
class _Tile:
    """What is kept of a tile, whose first pixel this is."""

    top: int
    left: int
    points: Points
    wishes: Keys
    busy: Floats
    hue_busy: Floats | None


def find_strokes(master: Master, spec: Spec, plan: Plan, *, threads: int = 2) -> Strokes:
    """Lines to trace, in mm of the picture as printed.

    Args:
        master: The reference.
        spec: The job; `spec.tone.outline` says which lines are wanted.
        plan: Its plan.
        threads: How many tiles are worked on at once; it changes nothing of the result.
    """
    return strokes_of(_seen(master, spec, plan, threads), spec.tone.outline)


def _seen(master: Master, spec: Spec, plan: Plan, threads: int) -> Found:
    """All points of the picture, which is held no longer than they are looked for."""
    with ThreadPoolExecutor(threads) as pool:
        step, hue_step = block_step(master, pool), hue_block_step(master, pool)
        canvas = read_canvas(master, spec, plan, pool)
        disturbance = Disturbance(
            noise=noise_of(canvas.grey),
            step=step,
            hue_noise=hue_noise_of(canvas),
            hue_step=hue_step,
        )
        return find_points(canvas, spec.tone.outline, disturbance, pool)


def strokes_of(found: Found, outline: Outline) -> Strokes:
    """The lines that are drawn, as curves.

    Args:
        found: All points.
        outline: Which lines are wanted.
    """
    chains, weight = chosen(found, outline)
    points, grid = found.points, found.grid
    places = _places(grid, points, chains)
    curves = fitted(Lines(places=places, first=chains.first, closed=chains.closed))
    counts = np.bincount(curves.owner, minlength=len(chains))
    return Strokes(
        curves_mm=curves.points.astype(np.float32),
        first=np.concatenate(([0], np.cumsum(counts))).astype(np.int32),
        weight=weight,
        length_mm=chains.lengths(points.x, points.y) * np.float32(grid.pitch_mm),
    )


def find_points(
    canvas: Canvas,
    outline: Outline,
    disturbance: Disturbance,
    pool: Executor,
    *,
    tile_px: int = TILE_PX,
) -> Found:
    """All points of lines, linked and measured.

    Args:
        canvas: The picture.
        outline: Which lines are wanted.
        disturbance: What is none of the scene's.
        pool: Where tiles are worked on.
        tile_px: Their sides, a multiple of `COARSER`. It changes nothing of the result, unless a
            tile is so full of points that only its plainest are held.
    """
    noise = (disturbance.noise, disturbance.hue_noise)
    least = tuple(faintest(outline.detail, each) for each in noise)
    rows, columns = canvas.shape
    corners = [
        (top, left) for top in range(0, rows, tile_px) for left in range(0, columns, tile_px)
    ]
    tiles: list[_Tile] = []
    for tile in pool.map(lambda corner: _worked(canvas, corner, tile_px, least), corners):
        tiles.append(tile)
        # A mural of gravel has points by the million, which need not be held until the end.
        if sum(len(each.points) for each in tiles) > 1.25 * MOST_POINTS:
            tiles = _plainest(tiles, MOST_POINTS)
    tiles = _plainest(tiles, MOST_POINTS)
    hue_busy = [tile.hue_busy for tile in tiles if tile.hue_busy is not None]
    busy = Busy(
        grey=_whole(canvas, tiles, [tile.busy for tile in tiles]),
        hue=_whole(canvas, tiles, hue_busy) if hue_busy else None,
    )
    points, link = _linked(tiles)
    # A large picture has many points, and they need not be held twice.
    del tiles
    return Found(
        grid=canvas.grid,
        points=points,
        link=link,
        measures=measure_points(canvas, points, busy, noise),
        disturbance=disturbance,
    )


def _plainest(tiles: list[_Tile], most: int) -> list[_Tile]:
    """The tiles with so many points at the most: those with the most contrast."""
    count = sum(len(tile.points) for tile in tiles)
    if count <= most:
        return tiles
    plain = _strongest(np.concatenate([tile.points.total for tile in tiles]), most)
    ends = np.cumsum([len(tile.points) for tile in tiles])
    return [
        replace(tile, points=tile.points.taken(which), wishes=tile.wishes[which])
        for tile, which in zip(tiles, np.split(plain, ends[:-1]), strict=True)
    ]


def _strongest(contrast: Floats, most: int) -> npt.NDArray[np.bool_]:
    """Which have the most contrast, so many of them; of equal ones those that come first."""
    which = np.zeros(len(contrast), np.bool_)
    which[np.argsort(-contrast, kind="stable")[:most]] = True
    return which


def _linked(tiles: list[_Tile]) -> tuple[Points, Ids]:
    """The points of all tiles, with their neighbours."""
    keys = np.concatenate([tile.points.key for tile in tiles])
    wishes = np.concatenate([tile.wishes for tile in tiles])[np.argsort(keys, kind="stable")]
    points = joined([tile.points for tile in tiles])
    return points, mutual(points.key, wishes)


def _worked(
    canvas: Canvas, corner: tuple[int, int], tile_px: int, least: tuple[float, ...]
) -> _Tile:
    """The points of one tile, each with the neighbours that it wishes for."""
    (top, left), (rows, columns) = corner, canvas.shape
    box = (top, left, min(top + tile_px, rows), min(left + tile_px, columns))
    slopes = slopes_of(
        _surrounded(canvas.grey, box, HALO_PX), left - HALO_PX, top - HALO_PX, canvas.shape
    )
    points, hue_busy = points_of(slopes, least[0]), None
    if canvas.hues:
        hues = _hue_slopes(canvas, box)
        points = with_hues(slopes, points, hues, least[1])
        hue_busy = mean_squares(_own(hues, _halved(box)), COARSER // HUE_PX)
    most = int(slopes.steep.size * DENSEST)
    if len(points) > most:
        points = points.taken(_strongest(points.total, most))
    wishes = best_neighbours(points, columns)
    row, column = np.divmod(points.key, columns)
    mine = (row >= top) & (row < box[2]) & (column >= left) & (column < box[3])
    busy = mean_squares(_own(slopes, box))
    return _Tile(top, left, points.taken(mine), wishes[mine], busy, hue_busy)


def _hue_slopes(canvas: Canvas, box: _Box) -> Slopes:
    """How fast colour changes in a tile and around it."""
    box, halo = _halved(box), HALO_PX // HUE_PX
    parts = tuple(_surrounded(values, box, halo) for values in canvas.hues)
    size = canvas.hues[0].shape
    return hue_slopes(parts, box[1] - halo, box[0] - halo, (size[0], size[1]))


def _halved(box: _Box) -> _Box:
    """Where a tile is in colour."""
    top, left, bottom, right = box
    return top // HUE_PX, left // HUE_PX, bottom // HUE_PX, right // HUE_PX


def _own(slopes: Slopes, box: _Box) -> Floats:
    """The slopes of a tile without its surroundings."""
    top, left, bottom, right = box
    return slopes.steep[
        top - slopes.top : bottom - slopes.top, left - slopes.left : right - slopes.left
    ]


def _surrounded(values: Bytes, box: _Box, halo: int) -> Bytes:
    """A part with its surroundings; beyond the picture its edge goes on."""
    (rows, columns), (top, left, bottom, right) = values.shape, box
    part = values[max(top - halo, 0) : bottom + halo, max(left - halo, 0) : right + halo]
    down = max(halo - top, 0), max(bottom + halo - rows, 0)
    across = max(halo - left, 0), max(right + halo - columns, 0)
    return np.pad(part, (down, across), mode="edge")


def _whole(canvas: Canvas, tiles: list[_Tile], parts: list[Floats]) -> Floats:
    """What tiles have of small squares, of the whole canvas."""
    rows, columns = canvas.shape
    whole = np.zeros((-(-rows // COARSER), -(-columns // COARSER)), np.float32)
    for tile, part in zip(tiles, parts, strict=True):
        top, left = tile.top // COARSER, tile.left // COARSER
        whole[top : top + len(part), left : left + part.shape[1]] = part
    return whole


def _places(grid: Grid, points: Points, chains: Chains) -> npt.NDArray[np.float64]:
    """Points of lines in mm of the picture; (places, 2)."""
    x, y = points.x[chains.order], points.y[chains.order]
    places = np.stack((x, y), axis=1).astype(np.float64) + 0.5
    return np.asarray(places * (grid.across_mm, grid.down_mm))
