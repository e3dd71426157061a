"""From scene to linear picture: light on a coarse raster, surfaces on the fine one.

First the light is gathered at every fourth pixel and smoothed along surfaces; then every
pixel finds its surface, takes the light from its coarse neighbours on the same surface, and
is shaded with the finest relief. Pixels that find no such neighbour gather for themselves;
pixels on edges are taken again at four more places.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from atelier.camera import Camera
from atelier.grid import Grid
from atelier.light import DAY, Daylight, Light, lambert
from atelier.scene import Hits, Scene
from atelier.shapes import Points
from atelier.vectors import Floats, Ints, Mask, column, dot, length

_SAMPLES = ((0.125, -0.375), (0.375, 0.125), (-0.125, 0.375), (-0.375, -0.125))
_SAME_PLANE_M = 0.0035
_CHUNK = 4096


@dataclass(frozen=True, kw_only=True, eq=False)
class Coarse:
    """Surfaces and light at every `stride`-th pixel, rasters of (channels, rows, columns).

    `values` holds window (3), room (3) and openness (1); `top` and `left` place a part of
    the raster in the whole.
    """

    stride: int
    identity: Ints
    world: Floats
    normal: Floats
    values: Floats
    top: int = 0
    left: int = 0

    def part(self, top: int, left: int, rows: int, columns: int) -> Coarse:
        """The part that a tile of coarse pixels needs, as far as it exists."""
        top, left = max(top, 0), max(left, 0)
        cut = np.s_[..., top : top + rows, left : left + columns]
        return Coarse(
            stride=self.stride,
            identity=self.identity[cut],
            world=self.world[cut],
            normal=self.normal[cut],
            values=self.values[cut],
            top=top,
            left=left,
        )


class Painter:
    """Shades places in the picture."""

    def __init__(self, scene: Scene, camera: Camera) -> None:
        self.scene, self.camera = scene, camera
        self.daylight = Daylight(scene, Grid(scene))

    def gather(self, rows: slice, stride: int) -> tuple[Hits, Floats]:
        """Surfaces and light at the coarse pixels of some coarse rows."""
        i = np.arange(rows.start, rows.stop)
        j = np.arange(-(-self.camera.width // stride))
        row, col = np.meshgrid(i, j, indexing="ij")
        x = ((col.ravel() + 0.5) * stride).astype(np.float32)
        y = ((row.ravel() + 0.5) * stride).astype(np.float32)
        hits = self.scene.meet(self.camera.origin, self.camera.ways(x, y))
        pattern = ((row.ravel() & 3) * 4 + (col.ravel() & 3)).astype(np.intp)
        return hits, self._light(hits, np.arange(x.size), pattern)

    def _light(self, hits: Hits, chosen: Ints, pattern: Ints) -> Floats:
        """Seven channels of light at the chosen hits."""
        out = np.empty((7, chosen.size), dtype=np.float32)
        for start in range(0, chosen.size, _CHUNK):
            part = np.s_[start : start + _CHUNK]
            at = chosen[part]
            light = self.daylight.gather(hits.world[:, at], hits.normal[:, at], pattern[part])
            out[:3, part], out[3:6, part], out[6, part] = (
                light.window,
                light.room,
                light.open_share,
            )
        return out

    def shade(self, x: Floats, y: Floats, coarse: Coarse) -> tuple[Floats, Hits]:
        """Linear colour (3, N) at places in the picture."""
        ways = self.camera.ways(x, y)
        hits = self.scene.meet(self.camera.origin, ways)
        values, weight = _nearby(coarse, hits, x, y)
        alone = np.flatnonzero(weight < 0.02)
        if alone.size:
            values[:, alone] = self._light(hits, alone, (np.arange(alone.size) * 7) & 15)
        colour = np.empty_like(ways)
        for number in np.unique(hits.identity):
            chosen = np.flatnonzero(hits.identity == number)
            colour[:, chosen] = self._surface(int(number), hits, chosen, ways, values)
        return colour, hits

    def _surface(
        self, number: int, hits: Hits, chosen: Ints, ways: Floats, values: Floats
    ) -> Floats:
        """Colour of the chosen hits, all on one solid."""
        view, values = ways[:, chosen], values[:, chosen]
        light = Light(window=values[:3], room=values[3:6], open_share=values[6])
        normal, at = hits.normal[:, chosen], hits.world[:, chosen]
        facing = np.maximum(-dot(view, normal), 0.05)
        footprint = hits.distance[chosen] * np.float32(self.camera.pixel) / facing
        finish = self.scene.finish(
            number, Points(world=at, local=at, normal=normal, footprint=footprint)
        )
        arriving = lambert(light, finish.normal, finish.wrap) * column(DAY) + light.room
        colour = finish.albedo * arriving * finish.cavity
        if np.max(finish.mirror) <= 0:
            return np.asarray(colour)
        cosine = np.clip(-dot(view, finish.normal), 0, 1)
        mirrored = view + 2 * cosine * finish.normal
        mirrored = mirrored / np.maximum(length(mirrored), 1e-6)
        rough = np.broadcast_to(np.asarray(finish.roughness, dtype=np.float32), cosine.shape)
        seen = self.daylight.mirrored(at, mirrored, rough, traced=finish.traced)
        grazing = (1 - cosine) ** 5 * np.maximum(1 - rough, 0) ** 2
        share = finish.mirror + (1 - finish.mirror) * grazing
        open_share = 0.25 + 0.75 * light.open_share
        return np.asarray(colour + share * seen * open_share * (1 - 0.6 * rough))

    def tile(self, box: tuple[int, int, int, int], coarse: Coarse) -> Floats:
        """Linear colour (3, rows, columns) of a tile given as left, top, right, bottom."""
        left, top, right, bottom = box
        grid = np.meshgrid(np.arange(left, right), np.arange(top, bottom))
        x, y = (part.ravel().astype(np.float32) + np.float32(0.5) for part in grid)
        colour, hits = self.shade(x, y, coarse)
        shape = (bottom - top, right - left)
        edge = np.flatnonzero(_edges(hits, shape))
        if edge.size:
            total = colour[:, edge]
            for dx, dy in _SAMPLES:
                total = total + self.shade(x[edge] + dx, y[edge] + dy, coarse)[0]
            colour[:, edge] = total / (1 + len(_SAMPLES))
        return colour.reshape(3, *shape)


def _edges(hits: Hits, shape: tuple[int, int]) -> Mask:
    """Pixels whose right or lower neighbour is on another surface, and those neighbours."""
    identity = hits.identity.reshape(shape)
    normal = hits.normal.reshape(3, *shape)
    depth = hits.distance.reshape(shape)
    edge = np.zeros(shape, dtype=bool)
    for one, two in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1, :], np.s_[1:, :])):
        turn = (normal[(slice(None), *one)] * normal[(slice(None), *two)]).sum(0) < 0.8
        split = (identity[one] != identity[two]) | turn | (abs(depth[one] - depth[two]) > 0.012)
        edge[one] |= split
        edge[two] |= split
    return edge.ravel()


def _weigh(same: Mask, towards: Floats, away: Floats, normals: Floats) -> Floats:
    """How far a coarse pixel speaks for a point: same solid, same plane, same facing."""
    off_plane = np.abs(dot(towards, away)) / np.float32(_SAME_PLANE_M)
    return np.asarray(
        same * np.maximum(1 - off_plane * off_plane, 0) * np.maximum(normals, 0) ** 8,
        dtype=np.float32,
    )


def _nearby(coarse: Coarse, hits: Hits, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Light from the four coarse neighbours on the same surface, and how sure it is."""
    u = x / coarse.stride - np.float32(0.5) - coarse.left
    v = y / coarse.stride - np.float32(0.5) - coarse.top
    rows, columns = coarse.identity.shape
    low_u, low_v = np.floor(u), np.floor(v)
    identity, count = coarse.identity.ravel(), rows * columns
    world, normal = coarse.world.reshape(3, count), coarse.normal.reshape(3, count)
    values = coarse.values.reshape(7, count)
    total, sure = np.zeros((7, x.size), dtype=np.float32), np.zeros(x.size, dtype=np.float32)
    for du in (0, 1):
        for dv in (0, 1):
            j = np.clip(low_u + du, 0, columns - 1).astype(np.intp)
            i = np.clip(low_v + dv, 0, rows - 1).astype(np.intp)
            at = i * columns + j
            near = np.abs(1 - du - (u - low_u)) * np.abs(1 - dv - (v - low_v))
            facing = dot(hits.normal, normal[:, at])
            weight = near * _weigh(
                identity[at] == hits.identity, hits.normal, world[:, at] - hits.world, facing
            )
            total += values[:, at] * weight
            sure += weight
    return total / np.maximum(sure, np.float32(1e-6)), sure


def smooth(coarse: Coarse) -> Coarse:
    """Average the 16 ray patterns of a 4 × 4 block along each surface."""
    total, sure = np.zeros_like(coarse.values), np.zeros_like(coarse.values[0])
    rows, columns = coarse.identity.shape
    for di in range(-2, 3):
        for dj in range(-2, 3):
            share = (0.5 if abs(di) == 2 else 1.0) * (0.5 if abs(dj) == 2 else 1.0)
            here = np.s_[max(-di, 0) : rows - max(di, 0), max(-dj, 0) : columns - max(dj, 0)]
            there = np.s_[max(di, 0) : rows + min(di, 0), max(dj, 0) : columns + min(dj, 0)]
            normal = coarse.normal[(slice(None), *here)]
            other = coarse.normal[(slice(None), *there)]
            away = coarse.world[(slice(None), *there)] - coarse.world[(slice(None), *here)]
            weight = share * _weigh(
                coarse.identity[here] == coarse.identity[there], normal, away, dot(normal, other)
            )
            total[(slice(None), *here)] += coarse.values[(slice(None), *there)] * weight
            sure[here] += weight
    values = total / np.maximum(sure, np.float32(1e-6))
    return Coarse(
        stride=coarse.stride,
        identity=coarse.identity,
        world=coarse.world,
        normal=coarse.normal,
        values=values,
    )
