"""The linen cloth: a height field with folds, hem, stripes and a weave of real threads.

Folds are ridges along bent lines, joined by a smooth maximum as cloth joins them, over a
gentle swell; they die away under the fruit, whose weight presses them flat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from atelier.noise import clouds2, noise2
from atelier.shapes import Finish, Points
from atelier.vectors import Floats, Ints, Mask, column, mix, smoothstep, unit

_CELL = 0.001
_LOW = (-0.50, -0.28)
_COUNT = (900, 860)
_THICK = 0.0016
#: Distance from thread to thread; a coarse household linen has about eleven to the centimetre.
_PITCH = 0.00092


@dataclass(frozen=True)
class Fold:
    """A ridge along a bent line from `a` past `b` to `c`; height and half width in metres."""

    a: tuple[float, float]
    b: tuple[float, float]
    c: tuple[float, float]
    height: float
    width: float
    skew: float = 0.0


class Cloth:
    """The cloth on the table.

    Args:
        centre, half: Place and half sizes of the flat cloth, metres.
        turn_deg: How it lies, seen from above.
        folds: Its ridges.
        weights: (x, z, radius) of what stands on it.
    """

    def __init__(
        self, centre: Sequence[float], half: Sequence[float], turn_deg: float,
        folds: Sequence[Fold], weights: Sequence[Sequence[float]],
    ) -> None:
        self._centre, self._half = centre, half
        turn = np.radians(turn_deg)
        self._cos, self._sin = np.float32(np.cos(turn)), np.float32(np.sin(turn))
        x = _LOW[0] + _CELL * np.arange(_COUNT[0], dtype=np.float32)
        z = _LOW[1] + _CELL * np.arange(_COUNT[1], dtype=np.float32)
        self._x, self._z = np.meshgrid(x, z, indexing="ij")
        height = self._make(folds, weights)
        self.top = float(height.max())
        slope_x, slope_z = np.gradient(height, _CELL)
        self._tables = [part.astype(np.float32).ravel() for part in (height, slope_x, slope_z)]

    def _make(
        self, folds: Sequence[Fold], weights: Sequence[Sequence[float]]
    ) -> Floats:
        """Heights over the table; negative outside the cloth."""
        x, z = self._x, self._z
        stray = 0.007 * clouds2(x * 22, z * 22, 3)
        total = np.zeros_like(x)
        for fold in folds:
            total = total + np.exp(_ridge(fold, x + stray, z - stray) / np.float32(0.0045)) - 1
        height = np.float32(0.0045) * np.log1p(total)
        height = height + 0.0026 * (clouds2(x * 14 + 3, z * 14, 2) + 0.4)
        height = height + 0.0009 * np.abs(clouds2(x * 55 + 9, z * 40, 2))
        for wx, wz, radius in weights:
            height = height * smoothstep(0.55 * radius, 1.5 * radius, np.hypot(x - wx, z - wz))
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
        """Bilinear reading of heights (0) or slopes (1, 2)."""
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
        u = u + points.world[1] * 0.5
        weave, tone = _weave(u / _PITCH, v / _PITCH, points.footprint / _PITCH)
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
        relief = np.stack([weave[0] * self._cos - weave[1] * self._sin, 0 * u,
                           weave[0] * self._sin + weave[1] * self._cos])
        return Finish(
            albedo=np.clip(linen * tone, 0.01, 0.9), normal=unit(points.normal + relief),
            mirror=0.02, roughness=0.9, wrap=0.05,
        )


def _ridge(fold: Fold, x: Floats, z: Floats) -> Floats:
    """Height that one fold adds at each place."""
    a, b, c = (np.array(end, dtype=np.float32) for end in (fold.a, fold.b, fold.c))
    reach = 3.2 * fold.width
    nearest, share = np.full_like(x, np.inf), np.zeros_like(x)
    side = np.zeros_like(x)
    for t in np.linspace(0, 1, 33, dtype=np.float32):
        at = (1 - t) ** 2 * a + 2 * t * (1 - t) * b + t * t * c
        way = 2 * (1 - t) * (b - a) + 2 * t * (c - b)
        near = np.hypot(x - at[0], z - at[1])
        closer = near < nearest
        nearest, share = np.where(closer, near, nearest), np.where(closer, t, share)
        cross = (x - at[0]) * way[1] - (z - at[1]) * way[0]
        side = np.where(closer, np.sign(cross), side)
    width = fold.width * (0.7 + 0.6 * share)
    d = nearest / (width * (1 + fold.skew * side))
    rise = np.clip(np.sin(np.pi * np.clip(share * 0.94 + 0.03, 0, 1)), 0, 1) ** 0.8
    shape = np.where(d < reach / fold.width, np.exp(-0.5 * d**2 * (1 + 0.35 * d)), 0)
    return np.asarray(fold.height * rise * shape, dtype=np.float32)


def _weave(a: Floats, b: Floats, footprint: Floats) -> tuple[tuple[Floats, Floats], Floats]:
    """Slopes and tone of a plain weave, faded where a pixel covers more than a thread."""
    fade = smoothstep(0.85, 0.30, footprint)
    slub = noise2(a * 0.9, b * 0.045) + noise2(a * 0.05, b * 0.9 + 90) - 1
    coarse = smoothstep(3.5, 1.2, footprint)
    a, b = a + 0.25 * noise2(a * 0.1, b * 0.4), b + 0.25 * noise2(a * 0.4 + 50, b * 0.1)
    low_a, low_b = np.floor(a), np.floor(b)
    over = (low_a + low_b).astype(np.int32) & 1
    ua, ub = np.pi * (a - low_a), np.pi * (b - low_b)
    across = np.where(over, np.cos(ua), 0.35 * np.cos(ua)) * np.float32(0.55)
    along = np.where(over, 0.35 * np.cos(ub), np.cos(ub)) * np.float32(0.55)
    bulge = np.where(over, np.sin(ua), np.sin(ub)) * (0.65 + 0.35 * np.sin(ua) * np.sin(ub))
    tone = 1 + fade * (0.75 * bulge - 0.45) * 0.62 + 0.24 * slub * coarse
    return (-across * fade * 0.55, -along * fade * 0.55), np.asarray(tone)
