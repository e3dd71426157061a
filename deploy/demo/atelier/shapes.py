"""What a thing in the picture is: a distance, a frame, a bounding sphere and a finish.

Every solid is a signed distance field in its own frame. A body carries the sphere that
encloses it, so that only rays near it are marched.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt

from atelier.vectors import Floats, column, length, unit

Doubles = npt.NDArray[np.float64]
Distance = Callable[[Floats], Floats]


@dataclass(frozen=True, kw_only=True, eq=False)
class Points:
    """Points on one body's surface.

    Attributes:
        world: Where they are.
        local: The same in the body's own frame.
        normal: Outward normals in the world, from the geometry.
        footprint: Width in metres that one pixel covers there, to fade what is finer.
    """

    world: Floats
    local: Floats
    normal: Floats
    footprint: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Finish:
    """What light meets at those points.

    Attributes:
        albedo: (3, N) share of light that is scattered back, linear.
        normal: (3, N) normals with the fine relief.
        mirror: Share reflected head-on (Fresnel's F0); 0.04 is a common glaze or wax.
        roughness: 0 shows the window sharply, 1 not at all.
        wrap: How far light seeps round the terminator, for flesh, leaves and wax.
        cavity: (N,) darkening in the fine relief.
        traced: Whether reflections look for what stands near.
    """

    albedo: Floats
    normal: Floats
    mirror: float | Floats = 0.04
    roughness: float | Floats = 0.6
    wrap: float = 0.0
    cavity: float | Floats = 1.0
    traced: bool = False


Surface = Callable[[Points], Finish]


@dataclass(frozen=True, kw_only=True, eq=False)
class Body:
    """A solid in the scene.

    Attributes:
        distance: Signed distance in the body's frame, never too long by more than `trust`.
        axes, origin: The frame: world = axes @ local + origin.
        centre, reach: Bounding sphere, `centre` in the body's frame.
        mean_albedo: What it sends back to its neighbours.
    """

    name: str
    distance: Distance
    surface: Surface
    axes: Floats
    origin: Floats
    centre: Sequence[float]
    reach: float
    mean_albedo: Sequence[float]
    trust: float = 0.85

    def to_local(self, world: Floats) -> Floats:
        """Points of the world in the body's frame."""
        return np.asarray(self.axes.T @ (world - self.origin))

    def world_distance(self, world: Floats) -> Floats:
        """Signed distance at points of the world."""
        return self.distance(self.to_local(world))

    def world_centre(self) -> Floats:
        """Centre of the bounding sphere in the world."""
        return np.asarray(self.axes @ column(self.centre) + self.origin)

    def normal(self, world: Floats, step: float = 3e-4) -> Floats:
        """Outward normals, from four distances at the corners of a small tetrahedron."""
        local, total = self.to_local(world), np.zeros_like(world)
        for corner in ((1, -1, -1), (-1, -1, 1), (-1, 1, -1), (1, 1, 1)):
            way = column(corner)
            total += way * self.distance(local + way * step)
        return np.asarray(self.axes @ unit(total))


class Curve:
    """A smooth curve through a few knots, read from a fine table.

    Natural cubic spline; the table makes reading it cheap for millions of points.
    """

    def __init__(self, x: Sequence[float], y: Sequence[float], entries: int = 4096) -> None:
        self.low, self.high = float(x[0]), float(x[-1])
        fine = np.linspace(self.low, self.high, entries)
        values = _spline(np.asarray(x, float), np.asarray(y, float), fine)
        self._step = (self.high - self.low) / (entries - 1)
        self._values = values.astype(np.float32)
        self._slopes = np.gradient(values, self._step).astype(np.float32)

    def __call__(self, x: Floats) -> tuple[Floats, Floats]:
        """Value and slope at `x`, held constant beyond the ends."""
        place = np.clip((x - self.low) / self._step, 0, len(self._values) - 1.001)
        index = place.astype(np.intp)
        f = place - index
        value = self._values[index]
        return value + (self._values[index + 1] - value) * f, self._slopes[index]


def _spline(x: Doubles, y: Doubles, at: Doubles) -> Doubles:
    """Natural cubic spline through (x, y), read at `at`."""
    h, count = np.diff(x), len(x)
    system, right = np.eye(count), np.zeros(count)
    for i in range(1, count - 1):
        system[i, i - 1 : i + 2] = h[i - 1], 2 * (h[i - 1] + h[i]), h[i]
        right[i] = 6 * ((y[i + 1] - y[i]) / h[i] - (y[i] - y[i - 1]) / h[i - 1])
    m = np.linalg.solve(system, right)
    k = np.clip(np.searchsorted(x, at) - 1, 0, count - 2)
    a, b = x[k + 1] - at, at - x[k]
    cubic = (m[k] * a**3 + m[k + 1] * b**3) / (6 * h[k])
    return np.asarray(
        cubic + (y[k] / h[k] - m[k] * h[k] / 6) * a + (y[k + 1] / h[k] - m[k + 1] * h[k] / 6) * b
    )


def box(p: Floats, half: Sequence[float], edge: float) -> Floats:
    """Box of half sizes `half` with its edges rounded to radius `edge`."""
    q = np.abs(p) - column(half) + edge
    outside = length(np.maximum(q, 0))
    return np.asarray(outside + np.minimum(np.maximum(q[0], np.maximum(q[1], q[2])), 0) - edge)


def rod(p: Floats, start: Sequence[float], end: Sequence[float], radii: Sequence[float]) -> Floats:
    """Round-ended rod from `start` to `end`, its radius running from one to the other."""
    a, along = column(start), column(end) - column(start)
    share = np.clip(((p - a) * along).sum(0) / float((along * along).sum()), 0, 1)
    return np.asarray(length(p - a - along * share) - (radii[0] + (radii[1] - radii[0]) * share))


def bound(function: Callable[..., Floats], *rest: object) -> Distance:
    """`function` with all but its points given."""
    return partial(_call, function, rest)


def _call(function: Callable[..., Floats], rest: tuple[object, ...], p: Floats) -> Floats:
    """Points first, the rest after."""
    return function(p, *rest)
