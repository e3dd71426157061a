"""Pears and a lemon: star-shaped solids, slightly lopsided, as nothing grown is turned.

The outline is given as a few points and read as radius over the angle from the top, which
stays smooth at both poles.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from atelier.noise import clouds3, dots3, noise3
from atelier.shapes import Body, Curve, Finish, Points, rod
from atelier.vectors import (
    Floats,
    column,
    dot,
    length,
    mix,
    rotation,
    smooth_min,
    smoothstep,
    unit,
)

#: Outline of a pear of height 1 about its heart: distance from the axis, height.
_PEAR = (
    (0.05, 0.605),
    (0.11, 0.585),
    (0.155, 0.49),
    (0.175, 0.38),
    (0.215, 0.26),
    (0.29, 0.13),
    (0.365, 0.0),
    (0.39, -0.12),
    (0.36, -0.24),
    (0.27, -0.335),
    (0.15, -0.372),
    (0.06, -0.352),
)
#: The same of a lemon along its axis.
_LEMON = (
    (0.045, 0.545),
    (0.085, 0.495),
    (0.16, 0.43),
    (0.26, 0.32),
    (0.335, 0.16),
    (0.355, 0.0),
    (0.34, -0.15),
    (0.27, -0.31),
    (0.17, -0.42),
    (0.085, -0.475),
    (0.05, -0.497),
)


def _polar(outline: Sequence[tuple[float, float]], poles: tuple[float, float]) -> Curve:
    """Radius over the angle from the top, mirrored beyond both poles to be flat there."""
    angles = [float(np.arctan2(rho, y)) for rho, y in outline]
    radii = [float(np.hypot(rho, y)) for rho, y in outline]
    angles = [-angles[0], 0.0, *angles, np.pi, 2 * np.pi - angles[-1]]
    radii = [radii[0], poles[0], *radii, poles[1], radii[-1]]
    return Curve(angles, radii)


_PEAR_CURVE = _polar(_PEAR, (0.575, 0.345))
_LEMON_CURVE = _polar(_LEMON, (0.56, 0.50))


@dataclass(frozen=True, kw_only=True, eq=False)
class Fruit:
    """One fruit: its outline, its size, and how it grew askew."""

    outline: Curve
    size: float
    lean: float
    lumps: Sequence[float]
    stem: Sequence[Sequence[float]] = ()

    def distance(self, p: Floats) -> Floats:
        """Signed distance in metres, stem included."""
        q = p / self.size
        q = np.stack([q[0] - self.lean * np.clip(q[1], 0, 1) ** 2, q[1], q[2]])
        reach = length(q) + np.float32(1e-6)
        n = q / reach
        radius, slope = self.outline(np.arctan2(np.hypot(q[0], q[2]), q[1]))
        a, b, c = self.lumps
        radius = radius * (1 + a * n[0] * n[1] + b * n[2] * n[0] + c * (n[0] ** 2 - n[2] ** 2))
        flesh = (reach - radius) / np.sqrt(1 + (slope / radius) ** 2) * self.size
        if not self.stem:
            return np.asarray(flesh)
        wood = rod(p, self.stem[0], self.stem[1], (0.0019, 0.0015))
        wood = smooth_min(wood, rod(p, self.stem[1], self.stem[2], (0.0015, 0.0026)), 0.002)
        return np.asarray(smooth_min(flesh, wood, 0.003))


@dataclass(frozen=True, kw_only=True, eq=False)
class PearSkin:
    """Ground colour, blush and where the blush faces."""

    ground: Sequence[float]
    ripe: Sequence[float]
    blush: Sequence[float]
    blush_side: Sequence[float]
    blush_share: float
    size: float

    def __call__(self, points: Points) -> Finish:
        """Mottled skin with pores, russet at stem and eye, and a woody stem."""
        p, size = points.local, self.size
        cloud = clouds3(p * 45, 4)
        skin = mix(column(self.ground), column(self.ripe), np.clip(0.5 + 0.9 * cloud, 0, 1))
        facing = dot(unit(p), unit(column(self.blush_side)))
        red = smoothstep(0.0, 0.95, facing + 0.45 * cloud) * self.blush_share
        streak = 0.75 + 0.5 * noise3(p * column((420, 90, 420)))
        skin = mix(skin, column(self.blush), np.clip(red * streak, 0, 1))
        pores = dots3(p * 300, 0.55, 0.22)
        skin = mix(skin, column((0.20, 0.13, 0.055)), pores * 0.42)
        bruise = dots3(p * 75 + 5, 0.08, 0.22)
        skin = mix(skin, column((0.17, 0.095, 0.035)), bruise * 0.55)
        ends = smoothstep(0.50, 0.585, p[1] / size + 0.07 * cloud)
        ends = ends + smoothstep(-0.325, -0.36, p[1] / size + 0.05 * cloud)
        russet = column((0.27, 0.165, 0.07)) * (1 + 0.5 * clouds3(p * 500, 2))
        skin = mix(skin, russet, np.clip(ends, 0, 0.85))
        wood = smoothstep(0.598, 0.612, p[1] / size)
        bark = column((0.105, 0.062, 0.032)) * (1 + 0.8 * clouds3(p * column((900, 250, 900)), 2))
        bump = [clouds3(p * 130 + shift, 2) for shift in (0, 11, 23)]
        return Finish(
            albedo=np.clip(mix(skin, bark, wood), 0.004, 0.9),
            normal=unit(points.normal + np.stack(bump) * 0.035),
            mirror=0.032,
            roughness=np.asarray(0.26 + 0.3 * wood, dtype=np.float32),
            wrap=0.10,
        )


def _lemon_peel(points: Points) -> Finish:
    """Yellow peel with oil glands, greener at the tips."""
    p = points.local
    gland = [noise3(p * 640 + shift) for shift in (0, 13, 29)]
    pit = dots3(p * 430, 0.9, 0.35)
    cloud = clouds3(p * 50, 3)
    peel = mix(column((0.78, 0.50, 0.035)), column((0.85, 0.60, 0.07)), 0.5 + cloud)
    tips = smoothstep(0.030, 0.046, np.abs(p[1]) + 0.004 * cloud)
    peel = mix(peel, column((0.50, 0.47, 0.07)), 0.75 * tips)
    scar = dots3(p * 70 + 2, 0.10, 0.2)
    peel = mix(peel, column((0.42, 0.27, 0.07)), 0.6 * scar)
    return Finish(
        albedo=peel * (1 - 0.10 * pit),
        normal=unit(points.normal + (np.stack(gland) - 0.5) * 0.20),
        mirror=0.038,
        roughness=0.24,
        wrap=0.13,
        cavity=1 - 0.12 * pit,
    )


def pear(
    at: Sequence[float], turn: Sequence[float], size: float, skin: PearSkin, seed: int
) -> Body:
    """A pear whose heart is at `at`; `turn` is turn, tilt and roll in degrees."""
    grown = np.random.default_rng(seed).uniform(-1, 1, 6)
    top = 0.60 * size
    lean = 0.10 + 0.05 * float(grown[3])
    root = (lean * 0.33 * size, top - 0.014, 0.0)
    knee = (root[0] + 0.002, top + 0.010, 0.001 * float(grown[4]))
    tip = (knee[0] + 0.006 + 0.003 * float(grown[5]), top + 0.021, 0.002)
    fruit = Fruit(
        outline=_PEAR_CURVE,
        size=size,
        lean=lean,
        lumps=tuple(0.045 * grown[:3]),
        stem=(root, knee, tip),
    )
    return Body(
        name="pear",
        distance=fruit.distance,
        surface=skin,
        axes=rotation(*turn),
        origin=column(at),
        centre=(0.006, 0.14 * size, 0),
        reach=0.62 * size,
        mean_albedo=skin.ripe,
        trust=0.75,
    )


def lemon(at: Sequence[float], turn: Sequence[float], size: float) -> Body:
    """A lemon whose heart is at `at`, its axis turned from the vertical."""
    fruit = Fruit(outline=_LEMON_CURVE, size=size, lean=0.03, lumps=(0.02, 0.03, 0.02))
    return Body(
        name="lemon",
        distance=fruit.distance,
        surface=_lemon_peel,
        axes=rotation(*turn),
        origin=column(at),
        centre=(0, 0, 0),
        reach=0.60 * size,
        mean_albedo=(0.80, 0.55, 0.05),
        trust=0.75,
    )
