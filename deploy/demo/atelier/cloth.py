"""The linen cloth: a height field with folds, hem, stripes and a weave of real threads.

Folds are ridges along bent lines, joined by a smooth maximum as cloth joins them, over a
gentle swell; they die away under the fruit, whose weight presses them flat.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from atelier.folds import Fold, ridge, slack, weave
from atelier.noise import clouds2
from atelier.shapes import Finish, Points
from atelier.vectors import Floats, Ints, Mask, column, mix, smoothstep, unit

_CELL = 0.001
_LOW = (-0.50, -0.28)
_COUNT = (900, 860)
_THICK = 0.0016
#: Distance from thread to thread; a coarse household linen has about eleven to the centimetre.
_PITCH = 0.00092


class Cloth:
    """The cloth on the table.

    Args:
        centre, half: Place and half sizes of the flat cloth, metres.
        turn_deg: How it lies, seen from above.
        folds: Its ridges.
        weights: (x, z, radius) of what stands on it.
    """

    def __init__(
        self,
        centre: Sequence[float],
        half: Sequence[float],
        turn_deg: float,
        folds: Sequence[Fold],
        weights: Sequence[Sequence[float]],
    ) -> None:
        self._centre, self._half = centre, half
        turn = np.radians(turn_deg)
        self._cos, self._sin = np.float32(np.cos(turn)), np.float32(np.sin(turn))
        x = _LOW[0] + _CELL * np.arange(_COUNT[0], dtype=np.float32)
        z = _LOW[1] + _CELL * np.arange(_COUNT[1], dtype=np.float32)
        self._x, self._z = np.meshgrid(x, z, indexing="ij")
        height = self._make(folds, weights)
        self.top = float(height.max())
        slope_x, slope_z = (np.gradient(height, _CELL, axis=axis) for axis in (0, 1))
        tables = (height, slope_x, slope_z, slack(slope_x, _CELL), slack(slope_z.T, _CELL).T)
        self._tables = [np.ascontiguousarray(part, dtype=np.float32).ravel() for part in tables]

    def _make(self, folds: Sequence[Fold], weights: Sequence[Sequence[float]]) -> Floats:
        """Heights over the table; negative outside the cloth."""
        x, z = self._x, self._z
        stray = 0.011 * clouds2(x * 15, z * 15, 2) + 0.002 * clouds2(x * 60, z * 60, 2)
        total = np.zeros_like(x)
        for fold in folds:
            total = total + np.exp(ridge(fold, x, z, stray) / np.float32(0.0045)) - 1
        height = np.float32(0.0045) * np.log1p(total)
        height = height + 0.0026 * (clouds2(x * 14 + 3, z * 14, 2) + 0.4)
        height = height + 0.0009 * np.abs(clouds2(x * 55 + 9, z * 40, 2))
        for wx, wz, radius in weights:
            away = np.hypot(x - np.float32(wx), z - np.float32(wz))
            height = height * smoothstep(0.55 * radius, 1.5 * radius, away)
        inset = -self._outside(x, z)
        height = np.maximum(height, 0) * (0.10 + 0.90 * smoothstep(0.0, 0.055, inset))
        hem = 0.0009 * smoothstep(0.0118, 0.0108, inset)
        body = height + (_THICK + hem) * smoothstep(0, 0.0022, inset)
        return np.where(inset > 0, body, -0.004).astype(np.float32)

    def _plane(self, x: Floats, z: Floats) -> tuple[Floats, Floats]:
        """Coordinates along the cloth's own edges."""
        dx, dz = x - self._centre[0], z - self._centre[1]
        return dx * self._cos + dz * self._sin, dz * self._cos - dx * self._sin

    def _outside(self, x: Floats, z: Floats) -> Floats:
        """Signed distance to the cloth's outline, a rectangle pulled a little out of true."""
        u, v = self._plane(x, z)
        wave = 0.006 * clouds2(u * 9 + 4, v * 9, 2)
        du, dv = np.abs(u + wave) - self._half[0], np.abs(v - wave) - self._half[1]
        corner = np.hypot(np.maximum(du + 0.004, 0), np.maximum(dv + 0.004, 0))
        return np.asarray(np.minimum(np.maximum(du, dv) + 0.004, 0) + corner - 0.004)

    def _read(self, table: int, x: Floats, z: Floats) -> Floats:
        """Bilinear reading of heights (0), slopes (1, 2) or slack (3, 4)."""
        u = np.clip((x - _LOW[0]) / np.float32(_CELL), 0, _COUNT[0] - 1.01)
        v = np.clip((z - _LOW[1]) / np.float32(_CELL), 0, _COUNT[1] - 1.01)
        i, j = u.astype(np.int32), v.astype(np.int32)
        fu, fv, at, data = u - i, v - j, i * _COUNT[1] + j, self._tables[table]
        near = data[at] + (data[at + 1] - data[at]) * fv
        at += _COUNT[1]
        far = data[at] + (data[at + 1] - data[at]) * fv
        return np.asarray(near + (far - near) * fu)

    def height(self, x: Floats, z: Floats) -> Floats:
        """Height of the cloth over the table, below it where there is none."""
        return self._read(0, x, z)

    def meet(self, origin: Floats, ways: Floats) -> Floats:
        """Distance along each ray to the cloth, infinity where it misses."""
        found = np.full(ways.shape[1], np.inf, dtype=np.float32)
        down = np.minimum(ways[1], np.float32(-1e-4))
        enter = (self.top + 0.001 - origin[1]) / down
        leave = (0.0 - origin[1]) / down
        live = self._near(origin, ways, enter, leave)
        if not live.size:
            return found
        ways, low, span = ways[:, live], enter[live], ((leave - enter) / 48)[live]
        above, high = low.copy(), np.full_like(low, np.inf)
        for _ in range(48):
            low = low + span
            fresh = ~np.isfinite(high)
            gap = (origin[1] + ways[1] * low) - self._read(
                0, origin[0] + ways[0] * low, origin[2] + ways[2] * low
            )
            high = np.where(fresh & (gap < 0), low, high)
            above = np.where(fresh & (gap >= 0), low, above)
        found[live] = self._halve(origin, ways, above, high)
        return found

    def _near(self, origin: Floats, ways: Floats, enter: Floats, leave: Floats) -> Ints:
        """Rays that pass the cloth's slab somewhere near its outline."""
        keep: Mask = np.zeros(ways.shape[1], dtype=bool)
        for share in (0.0, 0.5, 1.0):
            t = enter + (leave - enter) * share
            keep |= self._outside(origin[0] + ways[0] * t, origin[2] + ways[2] * t) < 0.09
        return np.flatnonzero(keep & (ways[1] < -1e-3))

    def _halve(self, origin: Floats, ways: Floats, low: Floats, high: Floats) -> Floats:
        """Bisect the step in which the ray went below the cloth."""
        miss = ~np.isfinite(high)
        high = np.where(miss, low, high)
        for _ in range(7):
            half = (low + high) / 2
            gap = (origin[1] + ways[1] * half) - self._read(
                0, origin[0] + ways[0] * half, origin[2] + ways[2] * half
            )
            low, high = np.where(gap > 0, half, low), np.where(gap > 0, high, half)
        return np.where(miss, np.float32(np.inf), high)

    def normal(self, world: Floats) -> Floats:
        """Upward normals of the folds."""
        x, z = world[0], world[2]
        return unit(np.stack([-self._read(1, x, z), np.ones_like(x), -self._read(2, x, z)]))

    def surface(self, points: Points) -> Finish:
        """Unbleached linen, three blue stripes by each short hem, a line of stitches."""
        x, z = points.world[0], points.world[2]
        u, v = self._plane(x, z)
        a, b = self._plane(x + self._read(3, x, z), z + self._read(4, x, z))
        threads, tone = weave(a / _PITCH, b / _PITCH, points.footprint / _PITCH)
        linen = column((0.60, 0.545, 0.45)) * (1 + 0.10 * clouds2(u * 30, v * 30, 2))
        edge = self._half[0] - np.abs(u)
        dyed = np.zeros_like(u)
        for place, half in ((0.034, 0.0012), (0.0425, 0.0042), (0.051, 0.0012)):
            dyed += smoothstep(0.0006, -0.0002, np.abs(edge - place) - half)
        linen = mix(linen, column((0.075, 0.125, 0.235)), 0.88 * np.clip(dyed, 0, 1))
        inset = -self._outside(x, z)
        stitch = smoothstep(0.0007, 0.0003, np.abs(inset - 0.0102))
        stitch = stitch * smoothstep(-0.2, 0.2, np.sin((u + v) * 2400))
        linen = linen * (1 - 0.35 * stitch)
        relief = np.stack(
            [
                threads[0] * self._cos - threads[1] * self._sin,
                0 * u,
                threads[0] * self._sin + threads[1] * self._cos,
            ]
        )
        return Finish(
            albedo=np.clip(linen * tone, 0.01, 0.9),
            normal=unit(points.normal + relief),
            mirror=0.02,
            roughness=0.9,
            wrap=0.05,
        )
