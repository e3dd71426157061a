"""The glazed stoneware jug and the enamelled mug that holds the brushes.

Both are thrown: a profile turned about the vertical axis, hollow, with a bent strap for a
handle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from atelier.noise import clouds3, dots3, noise3
from atelier.shapes import Body, Curve, Finish, Points
from atelier.vectors import (
    Floats,
    column,
    mix,
    rotation,
    smooth_max,
    smooth_min,
    smoothstep,
    unit,
)

_JUG_Y = (0, 0.006, 0.03, 0.062, 0.095, 0.13, 0.162, 0.186, 0.206, 0.226, 0.235)
_JUG_R = (0.053, 0.056, 0.070, 0.0835, 0.087, 0.078, 0.058, 0.0475, 0.0465, 0.0525, 0.0555)
_MUG_Y = (0, 0.01, 0.05, 0.088, 0.092)
_MUG_R = (0.0375, 0.040, 0.041, 0.042, 0.0435)


@dataclass(frozen=True, kw_only=True, eq=False)
class Vessel:
    """A hollow thrown pot.

    Attributes:
        wall: Thickness in metres.
        handle: Half axes of the handle's ellipse, then its tube radius and how flat it is.
        handle_at: Centre of that ellipse, x and y.
        spout: How far the lip is drawn out towards +x.
        rings: Height of the throwing rings.
    """

    profile: Curve
    wall: float
    handle: tuple[float, float, float, float]
    handle_at: tuple[float, float]
    spout: float
    rings: float

    def _radius(self, p: Floats, rho: Floats) -> tuple[Floats, Floats]:
        """Radius and its slope at the height and side of each point."""
        radius, slope = self.profile(p[1])
        if self.spout:
            ahead = np.clip(p[0] / np.maximum(rho, 1e-6), 0, 1) ** 12
            lift = smoothstep(self.profile.high - 0.045, self.profile.high, p[1])
            radius = radius + self.spout * ahead * lift
        if self.rings:
            radius = radius + self.rings * np.sin(p[1] * 620 + 2.5 * np.sin(p[1] * 110))
        return radius, slope

    def _strap(self, p: Floats) -> Floats:
        """Distance to the handle, to first order in its ellipse."""
        a, b, tube, flat = self.handle
        x, y = p[0] - self.handle_at[0], p[1] - self.handle_at[1]
        k = np.sqrt((x / a) ** 2 + (y / b) ** 2) + np.float32(1e-6)
        slope = np.sqrt((x / a**2) ** 2 + (y / b**2) ** 2) + np.float32(1e-3)
        across = np.maximum((k - 1) * k / slope, -0.05)
        return np.asarray((np.hypot(across, p[2] * flat) - tube) * 0.8)

    def distance(self, p: Floats) -> Floats:
        """Signed distance: the turned solid and its handle, less the hollow."""
        rho = np.hypot(p[0], p[2])
        radius, slope = self._radius(p, rho)
        shrink = 1 / np.sqrt(1 + slope * slope)
        top = self.profile.high
        ends = np.maximum(-p[1], p[1] - top)
        solid = smooth_max((rho - radius) * shrink, ends, 0.005)
        solid = smooth_min(solid, self._strap(p), 0.012)
        hollow = smooth_max((rho - radius + self.wall) * shrink, 0.012 - p[1], 0.01)
        return smooth_max(solid, -hollow, 0.0035)


JUG = Vessel(
    profile=Curve(_JUG_Y, _JUG_R),
    wall=0.005,
    handle=(0.050, 0.056, 0.0078, 0.55),
    handle_at=(-0.072, 0.150),
    spout=0.017,
    rings=0.00003,
)
MUG = Vessel(
    profile=Curve(_MUG_Y, _MUG_R),
    wall=0.0022,
    handle=(0.024, 0.030, 0.0042, 0.6),
    handle_at=(0.042, 0.050),
    spout=0.0,
    rings=0.0,
)


def _stoneware(points: Points) -> Finish:
    """Pale ash glaze with iron specks over a toasted body that shows at foot and lip."""
    p = points.local
    y = p[1]
    cloud = clouds3(p * 28, 3)
    glaze = mix(column((0.50, 0.535, 0.475)), column((0.64, 0.64, 0.55)), 0.5 + 0.8 * cloud)
    pool = smoothstep(0.21, 0.155, y) * smoothstep(0.13, 0.158, y)
    glaze = mix(glaze, column((0.33, 0.42, 0.41)), 0.55 * pool)
    for height in (0.1405, 0.1335):
        wobble = 0.0006 * clouds3(p * 60, 2)
        band = smoothstep(0.0019, 0.0008, np.abs(y - height + wobble))
        band = band * smoothstep(0.0996, 0.096, np.hypot(p[0], p[2]))
        ink = 0.55 + 0.9 * noise3(p * column((160, 900, 160)))
        glaze = mix(glaze, column((0.05, 0.085, 0.16)), np.clip(band * ink, 0, 0.92))
    iron = dots3(p * 330, 0.10, 0.16) * 0.8 + dots3(p * 120 + 3, 0.06, 0.09) * 0.9
    glaze = mix(glaze, column((0.10, 0.055, 0.03)), np.clip(iron, 0, 0.85))
    lip = smoothstep(0.2275, 0.2335, y + 0.002 * cloud)
    glaze = mix(glaze, column((0.27, 0.15, 0.075)), 0.85 * lip)
    line = y - 0.017 - 0.004 * clouds3(p * column((30, 0, 30)), 2)
    bare = smoothstep(0.0008, -0.0008, line)
    clay = column((0.36, 0.25, 0.16)) * (1 + 0.35 * clouds3(p * 300, 2))
    relief = clouds3(p * 60, 1), clouds3(p * 60 + 31, 1), clouds3(p * 60 + 57, 1)
    return Finish(
        albedo=mix(glaze, clay, bare),
        normal=unit(points.normal + np.stack(relief) * 0.007),
        mirror=0.055 * (1 - bare),
        roughness=np.asarray(0.035 + 0.6 * bare, dtype=np.float32),
        cavity=1 - 0.35 * np.exp(-((line / 0.0016) ** 2)),
        traced=True,
    )


def _enamel(points: Points) -> Finish:
    """White enamel with a dark blue rim, and one old chip."""
    p = points.local
    white = column((0.76, 0.75, 0.70)) * (1 + 0.05 * clouds3(p * 40, 2))
    rim = smoothstep(0.0882, 0.0890, p[1] + 0.0006 * clouds3(p * 90, 1))
    paint = mix(white, column((0.025, 0.045, 0.13)), rim)
    specks = dots3(p * 210, 0.03, 0.1)
    paint = mix(paint, column((0.08, 0.10, 0.16)), specks * 0.8)
    off = np.hypot(p[0] + 0.014, p[1] - 0.020) + 0.003 * noise3(p * 500)
    chip = smoothstep(0.0062, 0.0052, off)
    chip = chip * (p[2] > 0)
    return Finish(
        albedo=mix(paint, column((0.045, 0.038, 0.035)), chip),
        normal=points.normal,
        mirror=0.05,
        roughness=np.asarray(0.06 + 0.5 * chip, dtype=np.float32),
        traced=True,
    )


def jug(x: float, z: float, turn_deg: float) -> Body:
    """The jug, standing on the table at (x, z)."""
    return Body(
        name="jug",
        distance=JUG.distance,
        surface=_stoneware,
        axes=rotation(turn_deg),
        origin=column((x, 0, z)),
        centre=(-0.015, 0.118, 0),
        reach=0.158,
        mean_albedo=(0.50, 0.50, 0.43),
        trust=0.8,
    )


def mug(x: float, z: float, turn_deg: float) -> Body:
    """The mug, standing on the table at (x, z)."""
    centre: Sequence[float] = (0.012, 0.046, 0)
    return Body(
        name="mug",
        distance=MUG.distance,
        surface=_enamel,
        axes=rotation(turn_deg),
        origin=column((x, 0, z)),
        centre=centre,
        reach=0.076,
        mean_albedo=(0.70, 0.69, 0.65),
        trust=0.8,
    )
