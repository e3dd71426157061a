"""The scene in small cubes, for the many rays that only ask whether something is in the way.

Shadows, bounced light and reflections need a few hundred rays for one pixel. They march
through a grid of distances instead of the solids; each ray starts from a place shifted by a
part of a cube, which averages the cubes away.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from atelier.room import WALL_Z
from atelier.scene import CLOTH, FIRST_BODY, TABLE, Scene
from atelier.shapes import Body
from atelier.vectors import Floats, Ints

Bytes = npt.NDArray[np.uint8]

_LOW = (-0.46, 0.0, WALL_Z + 0.002)
_HIGH = (0.46, 0.47, 0.42)
CUBE = 0.004
_REACH = 0.06
_STEPS = 40


class Grid:
    """Distances and identities in cubes of 4 mm over the table."""

    def __init__(self, scene: Scene) -> None:
        sizes = [int(np.ceil((high - low) / CUBE)) for low, high in zip(_LOW, _HIGH, strict=True)]
        self.shape = (sizes[0], sizes[1], sizes[2])
        axes = [
            low + CUBE * (np.arange(n, dtype=np.float32) + 0.5)
            for low, n in zip(_LOW, sizes, strict=True)
        ]
        self._axes = axes
        distance = np.broadcast_to(axes[1][None, :, None], self.shape).copy()
        identity = np.full(self.shape, TABLE, dtype=np.uint8)
        self._add_cloth(scene, distance, identity)
        for number, body in enumerate(scene.bodies, FIRST_BODY):
            self._add(body, number, distance, identity)
        self.distance = np.minimum(distance, np.float32(_REACH)).ravel()
        self.identity = identity.ravel()
        self._low = np.asarray(_LOW, dtype=np.float32).reshape(3, 1)
        self._size = np.asarray(self.shape, dtype=np.float32).reshape(3, 1)

    def _add_cloth(self, scene: Scene, distance: Floats, identity: Bytes) -> None:
        """Height over the cloth, shortened for its slopes, near the table."""
        rows = int((scene.cloth.top + _REACH) / CUBE)
        x, z = np.meshgrid(self._axes[0], self._axes[2], indexing="ij")
        height = scene.cloth.height(x.ravel(), z.ravel()).reshape(x.shape)
        over = (self._axes[1][None, :rows, None] - height[:, None, :]) * np.float32(0.75)
        nearer = (over < distance[:, :rows]) & (height > 0)[:, None, :]
        distance[:, :rows][nearer] = over[nearer]
        identity[:, :rows][nearer] = CLOTH

    def _add(self, body: Body, number: int, distance: Floats, identity: Bytes) -> None:
        """One body, within its bounding sphere and the reach of the grid."""
        centre, reach, spans = body.world_centre()[:, 0], body.reach, []
        for axis in range(3):
            low = int((centre[axis] - reach - _REACH - _LOW[axis]) / CUBE)
            high = int((centre[axis] + reach + _REACH - _LOW[axis]) / CUBE) + 1
            spans.append(slice(max(low, 0), min(max(high, 0), self.shape[axis])))
        block = (spans[0], spans[1], spans[2])
        parts = np.meshgrid(*(self._axes[a][s] for a, s in enumerate(block)), indexing="ij")
        points = np.stack([part.ravel() for part in parts])
        found = np.full(points.shape[1], _REACH, dtype=np.float32)
        away = np.sqrt(((points - centre[:, None]) ** 2).sum(0)) - reach
        close = np.flatnonzero(away < _REACH)
        found[close] = body.world_distance(points[:, close])
        found = found.reshape(parts[0].shape)
        nearer = found < distance[block]
        distance[block][nearer] = found[nearer]
        identity[block][nearer] = number

    def centres(self, stride: int) -> tuple[Floats, tuple[int, int, int]]:
        """Centres of coarser cells, `stride` cubes wide, and their counts."""
        axes = [axis[stride // 2 :: stride] for axis in self._axes]
        parts = np.meshgrid(*axes, indexing="ij")
        shape = (len(axes[0]), len(axes[1]), len(axes[2]))
        return np.stack([part.ravel() for part in parts]), shape

    def march(self, start: Floats, ways: Floats, touch: float = 0.0012) -> Ints:
        """The cube in which each ray is stopped, or -1 where it leaves the grid."""
        q, e = (start - self._low) / np.float32(CUBE), ways / np.float32(CUBE)
        safe = np.where(np.abs(e) < 1e-5, np.float32(1e-5), e)
        one, two = -q / safe, (self._size - 0.01 - q) / safe
        t = np.maximum(np.minimum(one, two).max(0), 0)
        end = np.maximum(one, two).min(0)
        stopped = np.full(start.shape[1], -1, dtype=np.intp)
        live: Ints = np.flatnonzero(t < end)
        q, e, t, end = q[:, live], e[:, live], t[live] + np.float32(1e-4), end[live]
        ny, nz = self.shape[1], self.shape[2]
        for _ in range(_STEPS):
            if not live.size:
                break
            i, j, k = ((q[a] + e[a] * t).astype(np.int32) for a in range(3))
            i *= ny
            i += j
            i *= nz
            i += k
            # Rounding can put a place at the rim just outside: take the nearest cube then.
            d = self.distance.take(i, mode="clip")
            hit = d < touch
            stopped[live[hit]] = np.clip(i[hit], 0, self.distance.size - 1)
            t += np.maximum(d, np.float32(0.002))
            keep = np.flatnonzero(~hit & (t < end))
            live, t, end, q, e = live[keep], t[keep], end[keep], q[:, keep], e[:, keep]
        return stopped
