"""Brushes in the mug and a pencil on the table: the fine straight lines of the picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from atelier.noise import clouds3, noise2, noise3
from atelier.shapes import Body, Curve, Finish, Points
from atelier.vectors import Floats, axes_along, column, mix, smoothstep, unit

#: Radius along a handle of length 1, from the tail to the ferrule.
_HANDLE_Y = (0.0, 0.02, 0.2, 0.55, 0.8, 1.0)
_HANDLE_R = (0.0006, 0.0016, 0.0022, 0.0036, 0.0044, 0.0034)
#: Radius along the hair, as a share of the ferrule's, from ferrule to tip.
_HAIR_Y = (0.0, 0.25, 0.55, 0.8, 0.95, 1.0)
_HAIR_R = (0.92, 1.18, 1.12, 0.72, 0.30, 0.10)


@dataclass(frozen=True, kw_only=True, eq=False)
class Brush:
    """One brush along its own y axis, tail at 0.

    Attributes:
        handle, ferrule, hair: Lengths in metres.
        width: Radius of the ferrule.
        flat: How much the hair is pressed flat, 1 is round.
        paint, bristle: Colours of the handle and the hair, linear.
        seed: Tells one brush's raggedness from another's.
    """

    handle: float
    ferrule: float
    hair: float
    width: float
    flat: float
    paint: Sequence[float]
    bristle: Sequence[float]
    seed: int

    def _parts(self) -> tuple[Curve, float, float]:
        """Profile of the whole, and where ferrule and hair begin."""
        start, hair = self.handle, self.handle + self.ferrule
        ys = [y * start for y in _HANDLE_Y]
        rs = list(_HANDLE_R)
        grip = self.width / 0.0042
        rs = [r * grip for r in rs]
        ys += [start + 0.3 * self.ferrule, hair]
        rs += [self.width * 0.9, self.width]
        ys += [hair + y * self.hair for y in _HAIR_Y[1:]]
        rs += [self.width * r for r in _HAIR_R[1:]]
        return Curve(ys, rs), start, hair

    def body(self, foot: Sequence[float], head: Sequence[float], up: Sequence[float]) -> Body:
        """The brush from `foot` towards `head` in the world."""
        curve, start, hair_from = self._parts()
        total = hair_from + self.hair

        def distance(p: Floats) -> Floats:
            press = smoothstep(start, hair_from + 0.3 * self.hair, p[1]) * (self.flat - 1)
            rho = np.hypot(p[0] / (1 + 0.45 * press), p[2] * (1 + press))
            radius, _ = curve(p[1])
            far = smoothstep(hair_from + 0.2 * self.hair, total, p[1])
            strand = noise2(p[0] * 2600 + self.seed * 9, p[2] * 2600) - 0.5
            radius = np.asarray(radius + far * strand * 0.0016)
            ends = np.maximum(-p[1], p[1] - total - far * strand * 0.006)
            return np.asarray(np.maximum((rho - radius) / (1 + 0.6 * press), ends))

        def surface(points: Points) -> Finish:
            return self._finish(points, start, hair_from)

        direction = np.asarray(head, float) - np.asarray(foot, float)
        return Body(
            name="brush",
            distance=distance,
            surface=surface,
            axes=axes_along(direction, up),
            origin=column(foot),
            centre=(0, total / 2, 0),
            reach=total / 2 + 0.004,
            mean_albedo=self.paint,
            trust=0.6,
        )

    def _finish(self, points: Points, start: float, hair_from: float) -> Finish:
        """Lacquered handle, crimped metal ferrule, streaky hair."""
        p, y = points.local, points.local[1]
        hair = smoothstep(hair_from - 0.0003, hair_from + 0.0003, y)
        metal = smoothstep(start - 0.0002, start + 0.0002, y) * (1 - hair)
        fade = np.clip(0.0005 / points.footprint, 0, 1)
        streak = noise3(p * column((3200, 60, 3200)) + self.seed) - 0.5
        coarse = noise3(p * column((900, 35, 900)) + self.seed) - 0.5
        share = (y - hair_from) / self.hair
        tip = smoothstep(0.4, 1.0, share)
        tone = 1 + hair * (1.3 * streak * fade + 0.7 * coarse) - 0.25 * tip
        bristle = column(self.bristle) * np.clip(tone, 0.15, 1.9)
        worn = smoothstep(0.12, 0.45, clouds3(p * column((300, 90, 300)) + self.seed, 3))
        paint = mix(column(self.paint), column((0.42, 0.29, 0.16)), 0.7 * worn)
        crimp = np.zeros_like(y)
        for place in (0.28, 0.40):
            crimp += np.exp(-(((y - start - place * (hair_from - start)) / 0.0006) ** 2))
        steel = column((0.21, 0.205, 0.19)) * (1 - 0.6 * crimp * metal)
        albedo = mix(mix(paint, bristle, hair), steel, metal)
        ridge = np.zeros_like(points.normal)
        ridge[0], ridge[2] = streak * fade, coarse
        return Finish(
            albedo=np.asarray(np.clip(albedo, 0.003, 0.95), dtype=np.float32),
            normal=unit(points.normal + ridge * hair * 0.9),
            mirror=0.04 * (1 - hair) + 0.45 * metal * (1 - 0.7 * crimp),
            roughness=np.asarray(0.24 + 0.6 * hair, dtype=np.float32),
        )


PENCIL_LENGTH = 0.150
_CONE = 0.021


def _pencil_distance(p: Floats) -> Floats:
    """Hexagonal rod along y, sharpened at the far end."""
    x, z = np.abs(p[0]), np.abs(p[2])
    hexagon = np.maximum(x, 0.5 * x + 0.8660254 * z)
    rho = np.hypot(x, z)
    to_tip = PENCIL_LENGTH - p[1]
    cone = (rho - np.maximum(to_tip, 0) * (0.0037 / _CONE)) * 0.95
    body = np.maximum(np.maximum(hexagon - 0.0034, rho - 0.00375), cone)
    return np.asarray(np.maximum(body, np.maximum(-p[1], -to_tip + 0.0015)))


def _pencil_finish(points: Points) -> Finish:
    """Dark green lacquer, a bare end, cut wood and a soft lead."""
    p, y = points.local, points.local[1]
    cone = smoothstep(PENCIL_LENGTH - _CONE - 0.0012, PENCIL_LENGTH - _CONE + 0.0014, y)
    lead = smoothstep(PENCIL_LENGTH - 0.0068, PENCIL_LENGTH - 0.0062, y)
    grain = noise3(p * column((1500, 110, 1500)))
    wood = column((0.56, 0.36, 0.20)) * (0.75 + 0.5 * grain)
    lacquer = column((0.028, 0.085, 0.060)) + 0 * wood
    ring = smoothstep(0.0006, 0.0003, np.abs(y - 0.009) - 0.0012)
    lacquer = mix(lacquer, column((0.60, 0.42, 0.14)), ring)
    tail = smoothstep(0.0006, 0.0002, y)
    albedo = mix(mix(lacquer, wood, np.maximum(cone, tail)), column((0.035, 0.035, 0.038)), lead)
    return Finish(
        albedo=albedo,
        normal=points.normal,
        mirror=0.045,
        roughness=np.asarray(0.16 + 0.45 * cone, dtype=np.float32),
        traced=True,
    )


def pencil(tail: Sequence[float], tip: Sequence[float]) -> Body:
    """A pencil lying from `tail` to `tip`."""
    direction = np.asarray(tip, float) - np.asarray(tail, float)
    return Body(
        name="pencil",
        distance=_pencil_distance,
        surface=_pencil_finish,
        axes=axes_along(direction, (0.0, 1.0, 0.1)),
        origin=column(tail),
        centre=(0, PENCIL_LENGTH / 2, 0),
        reach=PENCIL_LENGTH / 2 + 0.004,
        mean_albedo=(0.04, 0.09, 0.06),
        trust=0.8,
    )
