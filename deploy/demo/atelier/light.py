"""The light: a tall north window on the left, and what the room sends back.

Light from the window is kept as a vector per point (mean direction times strength), so that
it can be worked out on a coarse raster and still be shaded by the finest relief. Radiance
is in units in which white paper facing the window at the middle of the table is near 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from atelier.grid import CUBE, Grid
from atelier.room import WALL_Z
from atelier.scene import TABLE, WALL, Scene
from atelier.vectors import Floats, Ints, Mask, column, dot, smoothstep, unit

#: The window: its plane, then its extent upwards and in depth, metres.
WINDOW_X = -1.25
WINDOW_Y = (0.46, 1.30)
WINDOW_Z = (-0.04, 0.58)
DAY = (0.955, 1.0, 1.075)
_STRENGTH = 15.5
_CURTAIN_X = -0.9
_GLINT = 1.15
_BAR = 0.016
_STRATA = 6
_BOUNCES = 30
_COARSE = 3
_LIFT = 0.005
_PATTERN = 16


@dataclass(frozen=True, kw_only=True, eq=False)
class Light:
    """What arrives at points: the window as a vector, the room's own light, and openness."""

    window: Floats
    room: Floats
    open_share: Floats


class Daylight:
    """Gathers light at points of the scene through the grid."""

    def __init__(self, scene: Scene, grid: Grid) -> None:
        self._grid, self._albedo = grid, scene.mean_albedo
        chance = np.random.default_rng(5)
        steps = (np.arange(_STRATA) + 0.5) / _STRATA
        y, z = np.meshgrid(steps, steps, indexing="ij")
        jitter = chance.uniform(-0.5, 0.5, (_PATTERN, 2, _STRATA**2)) / _STRATA
        self._panes = (np.stack([y.ravel(), z.ravel()]) + jitter).astype(np.float32)
        self._dome = _dome(chance)
        self._shift = chance.uniform(-0.5, 0.5, (_PATTERN, 3)).astype(np.float32) * 0.7 * CUBE
        cells, self._cells = grid.centres(_COARSE)
        every = np.arange(cells.shape[1]) % _PATTERN
        fill = [
            self._window(cells[:, part], every[part], 3)[0]
            for part in np.array_split(np.arange(cells.shape[1]), 24)
        ]
        strength = np.concatenate([np.sqrt(dot(v, v)) for v in fill])
        self._strength = strength.reshape(self._cells).astype(np.float32)

    def _window(self, at: Floats, pattern: Ints, skip: int = 1) -> tuple[Floats, Floats]:
        """Vector of window light at points, and the share of it that is not blocked."""
        panes = self._panes[pattern][:, :, ::skip]
        y = WINDOW_Y[0] + (WINDOW_Y[1] - WINDOW_Y[0]) * panes[:, 0]
        z = WINDOW_Z[0] + (WINDOW_Z[1] - WINDOW_Z[0]) * panes[:, 1]
        rays = np.stack([np.full_like(y, WINDOW_X), y, z]) - at[:, :, None]
        square = (rays * rays).sum(0)
        far = np.sqrt(square)
        ways = rays / far
        area = (WINDOW_Y[1] - WINDOW_Y[0]) * (WINDOW_Z[1] - WINDOW_Z[0]) / y.shape[1]
        sky = 0.72 + 0.56 * panes[:, 0]
        weight = _STRENGTH / np.pi * area * np.maximum(-ways[0], 0) / square * sky
        shifted = np.broadcast_to((at + self._shift[pattern].T)[:, :, None], ways.shape)
        stopped = self._grid.march(shifted.reshape(3, -1), ways.reshape(3, -1))
        clear = (stopped < 0).reshape(y.shape)
        seen = weight * clear * _past_curtain(at, ways)
        share = seen.sum(1) / np.maximum(weight.sum(1), 1e-9)
        return (ways * seen).sum(2), share

    def gather(self, at: Floats, normal: Floats, pattern: Ints) -> Light:
        """All light at surface points; `pattern` (0 to 15) varies the rays from point to point."""
        lifted = at + normal * np.float32(_LIFT)
        window, share = self._window(lifted, pattern)
        ways = _around(normal, self._dome[pattern])
        start = np.broadcast_to(
            (lifted + self._shift[pattern].T)[:, :, None], (3, at.shape[1], ways.shape[2])
        ).reshape(3, -1)
        room = self.radiance(start, ways.reshape(3, -1))[0].reshape(3, at.shape[1], -1)
        return Light(window=window, room=room.mean(2), open_share=share)

    def radiance(self, start: Floats, ways: Floats) -> tuple[Floats, Mask]:
        """What a ray sees, the window left out, and whether a thing near by is in its way."""
        stopped = self._grid.march(start, ways)
        seen = self._beyond(start, ways)
        hit = np.flatnonzero(stopped >= 0)
        if hit.size:
            colour = self._albedo[:, self._grid.identity[stopped[hit]]]
            light = self._strength_at(stopped[hit])
            seen[:, hit] = colour * (0.60 * light * column(DAY) + 0.05)
        return seen, stopped >= 0

    def _strength_at(self, cube: Ints) -> Floats:
        """Window light near a cube of the grid."""
        _, ny, nz = self._grid.shape
        i, j, k = cube // (ny * nz), cube // nz % ny, cube % nz
        most = [n - 1 for n in self._cells]
        x, y, z = (np.minimum(a // _COARSE, n) for a, n in zip((i, j, k), most, strict=True))
        return np.asarray(self._strength[x, y, z])

    def _beyond(self, start: Floats, ways: Floats) -> Floats:
        """Wall, table or the dim room behind the camera, for rays that leave the grid."""
        room = 0.055 + 0.045 * ways[1] + 0.03 * np.maximum(ways[0], 0)
        seen = column((1.02, 0.985, 0.93)) * room
        back = (WALL_Z - start[2]) / np.minimum(ways[2], np.float32(-1e-4))
        down = -start[1] / np.minimum(ways[1], np.float32(-1e-4))
        x = start[0] + ways[0] * np.minimum(back, down)
        fall = 1 / (0.55 + (x + 1.25) ** 2 * 0.42)
        is_wall = (ways[2] < -1e-3) & ((back < down) | (ways[1] > -1e-3)) & (back < 3)
        is_table = (ways[1] < -1e-3) & ~is_wall
        colour = self._albedo
        seen = np.where(is_wall, colour[:, WALL, None] * (0.50 * fall + 0.05), seen)
        return np.asarray(np.where(is_table, colour[:, TABLE, None] * (0.70 * fall + 0.05), seen))

    def mirrored(self, at: Floats, ways: Floats, roughness: Floats, *, traced: bool) -> Floats:
        """What a glossy surface mirrors along `ways`: the window's panes and the room."""
        panes = window_seen(at, ways, roughness) * (_STRENGTH * _GLINT)
        if not traced:
            return column(DAY) * panes + 0.06
        start = at + ways * np.float32(0.006) + _scatter(at)
        near, blocked = self.radiance(start, ways)
        return np.where(blocked, near, near + column(DAY) * panes)


def _past_curtain(at: Floats, ways: Floats) -> Floats:
    """Share of light that gets past the curtain, which hangs aslant by the wall."""
    t = (_CURTAIN_X - at[0])[:, None] / np.minimum(ways[0], np.float32(-1e-3))
    y, z = at[1][:, None] + ways[1] * t, at[2][:, None] + ways[2] * t
    return smoothstep(-0.05, 0.05, z - 0.55 * (y - 0.45) + 0.16)


def _scatter(at: Floats) -> Floats:
    """A shift of up to half a cube that differs from place to place, to hide the cubes."""
    wild = np.sin(at * 91234.0 + at[::-1] * 47111.0) * 4375.85
    return np.asarray((wild - np.floor(wild) - 0.5) * CUBE, dtype=np.float32)


def window_seen(at: Floats, ways: Floats, roughness: Floats) -> Floats:
    """Share of the reflected cone that the panes fill, glazing bars left out."""
    t = (WINDOW_X - at[0]) / np.minimum(ways[0], np.float32(-1e-3))
    y, z = at[1] + ways[1] * t, at[2] + ways[2] * t
    soft = np.maximum(roughness * t * 1.5, 0.012)

    def band(low: float, high: float, value: Floats) -> Floats:
        past = np.clip((value - low) / soft + 0.5, 0, 1)
        inner = past - np.clip((value - high) / soft + 0.5, 0, 1)
        return np.asarray(inner * inner * (3 - 2 * inner))

    seen = band(*WINDOW_Y, y) * band(*WINDOW_Z, z)
    for value, extent, share in ((y, WINDOW_Y, 0.60), (z, WINDOW_Z, 0.5)):
        middle = extent[0] + (extent[1] - extent[0]) * share
        seen = seen * (1 - band(middle - _BAR, middle + _BAR, value))
    tone = 0.70 + 0.45 * (y - WINDOW_Y[0]) / (WINDOW_Y[1] - WINDOW_Y[0])
    return np.asarray(np.where(ways[0] < -1e-3, seen * np.clip(tone, 0.5, 1.3), 0))


def lambert(light: Light, normal: Floats, wrap: float) -> Floats:
    """Window light on a surface of this normal, never below nothing, softly."""
    strength = np.sqrt(dot(light.window, light.window))
    facing = (dot(light.window, normal) + wrap * strength) / (1 + wrap)
    return np.asarray(0.5 * (facing + np.sqrt(facing * facing + 0.0004)))


def _dome(chance: np.random.Generator) -> Floats:
    """Cosine-weighted directions about +y, one set for each pattern: (16, 3, n)."""
    n = np.arange(_BOUNCES)
    sets = []
    for _ in range(_PATTERN):
        high = (n + chance.random(_BOUNCES)) / _BOUNCES
        angle = n * 2.399963 + chance.random() * 6.2832
        flat = np.sqrt(high)
        sets.append(np.stack([flat * np.cos(angle), np.sqrt(1 - high), flat * np.sin(angle)]))
    return np.asarray(np.stack(sets), dtype=np.float32)


def _around(normal: Floats, dome: Floats) -> Floats:
    """Directions of the dome turned so that +y lies along each normal: (3, N, n)."""
    helper = np.where(np.abs(normal[1]) < 0.9, column((0, 1, 0)), column((1, 0, 0)))
    a = unit(
        np.stack(
            [
                normal[1] * helper[2] - normal[2] * helper[1],
                normal[2] * helper[0] - normal[0] * helper[2],
                normal[0] * helper[1] - normal[1] * helper[0],
            ]
        )
    )
    b = np.stack(
        [
            normal[1] * a[2] - normal[2] * a[1],
            normal[2] * a[0] - normal[0] * a[2],
            normal[0] * a[1] - normal[1] * a[0],
        ]
    )
    return np.asarray(
        a[:, :, None] * dome[None, :, 0]
        + normal[:, :, None] * dome[None, :, 1]
        + b[:, :, None] * dome[None, :, 2],
        dtype=np.float32,
    )
