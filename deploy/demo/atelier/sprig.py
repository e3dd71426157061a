"""A sprig with small leaves, standing in the jug: lively edges against the plain wall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from atelier.noise import clouds3, noise3
from atelier.shapes import Body, Finish, Points, rod
from atelier.vectors import Floats, axes_along, column, mix, smoothstep

Doubles = npt.NDArray[np.float64]

_THICKNESS = 0.00035


@dataclass(frozen=True, kw_only=True, eq=False)
class Leaf:
    """A blade along its own y axis from its stalk; x across, z the upper side.

    Attributes:
        size, width: Length and half width in metres.
        curl: How far the tip bends back, metres.
        fold: Slope of both halves towards the midrib.
        young: 0 is an old dark leaf, 1 a young light one.
    """

    size: float
    width: float
    curl: float
    fold: float
    young: float
    seed: int

    def distance(self, p: Floats) -> Floats:
        """Signed distance to the thin bent blade and its stalk."""
        share = p[1] / self.size
        inside = np.clip(share, 0, 1)
        half = self.width * 2.6 * np.sqrt(inside + 1e-4) * (1 - inside) * (0.75 + 0.5 * inside)
        rise = self.fold * np.abs(p[0]) - self.curl * inside**2
        rise = rise + 0.0008 * np.sin(share * 17 + self.seed) * np.abs(p[0]) / self.width
        flat = np.abs(p[2] - rise) - _THICKNESS
        edge = np.abs(p[0]) - half
        beyond = np.maximum(p[1] - self.size, -p[1])
        blade = np.maximum(np.maximum(flat * 0.8, edge * 0.7), beyond)
        stalk = rod(p, (0, -0.006, 0), (0, 0.004, 0), (0.0007, 0.0006))
        return np.asarray(np.minimum(blade, stalk))

    def surface(self, points: Points) -> Finish:
        """Green with a light midrib and side veins; the underside is greyer."""
        p = points.local
        share = np.clip(p[1] / self.size, 0, 1)
        dark = mix(column((0.045, 0.085, 0.040)), column((0.14, 0.20, 0.075)), self.young)
        blade = dark * (1 + 0.55 * clouds3(p * 130 + self.seed, 3))
        rib = smoothstep(0.0011, 0.0003, np.abs(p[0]) * (0.8 + 0.9 * share))
        slant = (p[1] - 0.75 * np.abs(p[0])) / 0.0042
        vein = smoothstep(0.16, 0.04, np.abs(slant - np.round(slant))) * 0.30
        lit = np.clip(rib * 0.75 + vein, 0, 1)
        blade = mix(blade, column((0.26, 0.30, 0.15)), lit)
        under = smoothstep(0.1, -0.1, self._upper(points))
        blade = mix(blade, column((0.20, 0.235, 0.165)), 0.75 * under)
        tip = smoothstep(0.86, 1.0, share + 0.1 * noise3(p * 300))
        blade = mix(blade, column((0.22, 0.13, 0.05)), 0.5 * tip)
        return Finish(
            albedo=np.clip(blade, 0.004, 0.9),
            normal=points.normal,
            mirror=0.035,
            roughness=0.30,
            wrap=0.22,
        )

    @staticmethod
    def _upper(points: Points) -> Floats:
        """Positive on the upper side of the blade."""
        return np.asarray(points.local[2] * 0 + points.normal[1])


def _bark(points: Points) -> Finish:
    """Reddish young bark."""
    p = points.local
    grain = clouds3(p * column((500, 160, 500)), 3)
    bark = mix(column((0.14, 0.085, 0.05)), column((0.13, 0.14, 0.06)), np.clip(p[1] * 4, 0, 1))
    bark = bark * (1 + 0.6 * grain)
    return Finish(albedo=np.clip(bark, 0.01, 0.9), normal=points.normal, roughness=0.5)


def _stem(line: Doubles, thick: float) -> Body:
    """The branch through all points of `line`."""

    def distance(p: Floats) -> Floats:
        nearest = np.full(p.shape[1], 1e3, dtype=np.float32)
        count = len(line) - 1
        for i in range(count):
            radii = thick * (1 - 0.75 * i / count), thick * (1 - 0.75 * (i + 1) / count)
            nearest = np.minimum(nearest, rod(p, line[i], line[i + 1], radii))
        return np.asarray(nearest)

    middle = (line.min(0) + line.max(0)) / 2
    reach = float(np.linalg.norm(line - middle, axis=1).max()) + thick
    return Body(
        name="stem",
        distance=distance,
        surface=_bark,
        axes=np.eye(3, dtype=np.float32),
        origin=column((0, 0, 0)),
        centre=tuple(middle),
        reach=reach,
        mean_albedo=(0.12, 0.10, 0.05),
        trust=0.9,
    )


def branch(
    ends: Sequence[Sequence[float]], leaves: int, seed: int, largest: float = 0.052
) -> list[Body]:
    """A bent branch from ends[0] past ends[1] to ends[2], leaves on alternate sides."""
    chance = np.random.default_rng(seed)
    t = np.linspace(0, 1, 13)[:, None]
    a, b, c = (np.asarray(end, float) for end in ends)
    line = (1 - t) ** 2 * a + 2 * t * (1 - t) * b + t**2 * c
    line[1:-1] += chance.normal(0, 0.0012, (11, 3))
    bodies = [_stem(line, 0.0021)]
    for i in range(leaves):
        share = 0.24 + 0.76 * i / (leaves - 1)
        place = min(share * 12, 11.999)
        low = int(place)
        root = line[low] + (line[low + 1] - line[low]) * (place - low)
        along = line[low + 1] - line[low]
        bodies.append(_leaf(root, along, (i, share), chance, largest))
    return bodies


def _leaf(
    root: Doubles,
    along: Doubles,
    place: tuple[int, float],
    chance: np.random.Generator,
    largest: float,
) -> Body:
    """One leaf at `root`, leaving the stem to the side; `place` is its number and height."""
    i, share = place
    along = along / np.linalg.norm(along)
    side = np.cross(along, (0.15, 0.1, 1.0))
    side /= np.linalg.norm(side)
    turn = chance.normal(0, 0.55) + (i % 2) * np.pi + 0.5 * np.sin(i * 2.4)
    out = side * np.cos(turn) + np.cross(along, side) * np.sin(turn)
    open_angle = 0.75 - 0.40 * share + chance.normal(0, 0.12)
    direction = along * np.cos(open_angle) + out * np.sin(open_angle)
    if i % 7 == 6 or share >= 1:
        direction = along + 0.25 * out
    direction = direction + np.array([0, -0.10, 0.05])
    upper = along - direction * float(along @ direction) / float(direction @ direction)
    upper = upper + np.array([0, 0.15, 0.35]) + chance.normal(0, 0.25, 3)
    size = largest * (1 - 0.45 * share) * float(chance.uniform(0.8, 1.1))
    leaf = Leaf(
        size=size,
        width=size * float(chance.uniform(0.19, 0.25)),
        curl=float(chance.uniform(0.0, 0.16)) * size,
        fold=float(chance.uniform(0.1, 0.5)),
        young=float(np.clip(share * 0.8 + chance.normal(0, 0.15), 0, 1)),
        seed=i,
    )
    axes = axes_along(tuple(direction), tuple(upper))
    unit_root = root + direction / np.linalg.norm(direction) * 0.006
    return Body(
        name="leaf",
        distance=leaf.distance,
        surface=leaf.surface,
        axes=axes,
        origin=column(tuple(unit_root)),
        centre=(0, size / 2 - 0.003, 0),
        reach=size / 2 + 0.006,
        mean_albedo=(0.08, 0.12, 0.05),
        trust=0.6,
    )
