"""What stands on the table, and what a ray meets first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from atelier.brushes import PENCIL_LENGTH, Brush, pencil
from atelier.cloth import Cloth
from atelier.folds import Fold
from atelier.fruit import PearSkin, lemon, pear
from atelier.pottery import jug, mug
from atelier.room import BOOK, TABLE_ALBEDO, WALL_ALBEDO, WALL_Z, book, card, table, wall
from atelier.shapes import Body, Finish, Points
from atelier.sprig import branch
from atelier.vectors import Floats, Ints, Mask, dot

#: Identities of what is no body; bodies count from FIRST_BODY.
WALL, TABLE, CLOTH, FIRST_BODY = 0, 1, 2, 3
_FAR = np.float32(np.inf)


@dataclass(frozen=True, kw_only=True, eq=False)
class Hits:
    """What each ray met: how far, what, where, and which way it faces."""

    distance: Floats
    identity: Ints
    world: Floats
    normal: Floats


class Scene:
    """All solids together."""

    def __init__(self, bodies: Sequence[Body], cloth: Cloth) -> None:
        self.bodies, self.cloth = tuple(bodies), cloth
        means: list[Sequence[float]] = [WALL_ALBEDO, TABLE_ALBEDO, (0.57, 0.52, 0.43)]
        means += [body.mean_albedo for body in bodies]
        self.mean_albedo = np.asarray(means, dtype=np.float32).T.copy()

    def meet(self, origin: Floats, ways: Floats) -> Hits:
        """The first solid along each ray from `origin`."""
        near, identity = self._planes(origin, ways)
        linen = self.cloth.meet(origin, ways)
        closer = linen < near
        near, identity = np.where(closer, linen, near), np.where(closer, CLOTH, identity)
        for number, body in enumerate(self.bodies, FIRST_BODY):
            _march(body, number, (origin, ways), near, identity)
        world = origin + ways * near
        return Hits(
            distance=near, identity=identity, world=world, normal=self._normals(world, identity)
        )

    def _planes(self, origin: Floats, ways: Floats) -> tuple[Floats, Ints]:
        """Distance to the nearer of wall and table."""
        back = (WALL_Z - origin[2]) / np.minimum(ways[2], np.float32(-1e-4))
        down = np.where(ways[1] < -1e-5, -origin[1] / np.minimum(ways[1], np.float32(-1e-5)), _FAR)
        return np.minimum(back, down), np.where(down < back, TABLE, WALL).astype(np.intp)

    def _normals(self, world: Floats, identity: Ints) -> Floats:
        """Geometric normals of what was met."""
        normal = np.zeros_like(world)
        normal[2, identity == WALL] = 1
        normal[1, identity == TABLE] = 1
        for number in np.unique(identity[identity >= CLOTH]):
            chosen = identity == number
            solid = self.cloth if number == CLOTH else self.bodies[number - FIRST_BODY]
            normal[:, chosen] = solid.normal(world[:, chosen])
        return normal

    def finish(self, number: int, points: Points) -> Finish:
        """Surface of the solid `number` at points on it."""
        if number < FIRST_BODY:
            return (wall, table, self.cloth.surface)[number](points)
        body = self.bodies[number - FIRST_BODY]
        local = body.to_local(points.world)
        return body.surface(
            Points(
                world=points.world, local=local, normal=points.normal, footprint=points.footprint
            )
        )


def _march(
    body: Body, number: int, rays: tuple[Floats, Floats], near: Floats, identity: Ints
) -> None:
    """Sphere-trace one body where its bounding sphere is met before anything else.

    Hits are written into `near` and `identity`.
    """
    origin, ways = rays
    to_centre = body.world_centre() - origin
    middle = dot(ways, to_centre)
    spread = (to_centre * to_centre).sum() - middle * middle
    half = np.sqrt(np.maximum(body.reach**2 - spread, 0))
    live: Ints = np.flatnonzero((half > 0) & (middle - half < near))
    if not live.size:
        return
    t, end = (middle - half)[live], (middle + half)[live]
    start, way = body.axes.T @ (origin - body.origin), body.axes.T @ ways[:, live]
    for _ in range(90):
        d = body.distance(start + way * t)
        hit = d < np.float32(6e-5)
        t = np.where(hit, t, t + np.maximum(d * np.float32(body.trust), np.float32(5e-5)))
        if hit.any():
            found = live[hit]
            won = t[hit] < near[found]
            near[found[won]], identity[found[won]] = t[hit][won], number
        keep: Mask = ~hit & (t < end)
        live, t, end, way = live[keep], t[keep], end[keep], way[:, keep]
        if not live.size:
            return


def still_life() -> Scene:
    """Jug, pears and linen, by a north window."""
    cloth = Cloth(
        centre=(-0.075, 0.105),
        half=(0.235, 0.155),
        turn_deg=21.0,
        folds=(
            Fold((-0.005, 0.045), (-0.07, 0.10), (-0.20, 0.135), 0.030, 0.013, 0.25),
            Fold((-0.02, 0.095), (-0.08, 0.15), (-0.175, 0.215), 0.021, 0.011, -0.2),
            Fold((0.015, 0.125), (-0.01, 0.19), (-0.075, 0.265), 0.025, 0.012, 0.2),
            Fold((0.06, 0.11), (0.065, 0.18), (0.03, 0.265), 0.016, 0.010, -0.25),
            Fold((-0.26, 0.045), (-0.19, 0.06), (-0.115, 0.055), 0.017, 0.010, 0.1),
            Fold((-0.255, 0.10), (-0.20, 0.10), (-0.13, 0.125), 0.011, 0.008),
            Fold((-0.13, 0.175), (-0.11, 0.205), (-0.12, 0.245), 0.012, 0.009),
            Fold((0.09, 0.13), (0.12, 0.155), (0.125, 0.20), 0.010, 0.009),
        ),
        weights=(
            (0.045, 0.055, 0.040),
            (0.122, 0.092, 0.032),
            (-0.17, -0.075, 0.075),
            (0.075, 0.165, 0.032),
        ),
    )
    return Scene([*_pots(), *_fruit(), *_papers()], cloth)


def _pots() -> list[Body]:
    """Jug with its sprig, mug with its brushes."""
    x, z = 0.268, -0.115
    bodies = [jug(-0.165, -0.075, 14), mug(x, z, -25)]
    bodies += branch(
        ((-0.18, 0.10, -0.08), (-0.150, 0.31, -0.075), (-0.035, 0.375, -0.06)), 25, 4, 0.058
    )
    bodies += branch(
        ((-0.19, 0.10, -0.07), (-0.185, 0.30, -0.085), (-0.262, 0.385, -0.07)), 21, 11, 0.052
    )
    hog, sable, dark = (0.62, 0.50, 0.32), (0.20, 0.085, 0.03), (0.075, 0.045, 0.03)
    red, black, blue = (0.30, 0.030, 0.022), (0.022, 0.021, 0.024), (0.035, 0.075, 0.20)
    ochre, bare = (0.48, 0.27, 0.06), (0.50, 0.34, 0.19)
    made = (
        (
            Brush(
                handle=0.175,
                ferrule=0.026,
                hair=0.030,
                width=0.0056,
                flat=1.9,
                paint=red,
                bristle=hog,
                seed=1,
            ),
            (0.018, -0.012),
            (-0.040, 0.004),
        ),
        (
            Brush(
                handle=0.185,
                ferrule=0.024,
                hair=0.023,
                width=0.0040,
                flat=1.0,
                paint=black,
                bristle=sable,
                seed=2,
            ),
            (0.008, 0.010),
            (-0.012, -0.012),
        ),
        (
            Brush(
                handle=0.165,
                ferrule=0.030,
                hair=0.034,
                width=0.0072,
                flat=2.0,
                paint=bare,
                bristle=hog,
                seed=3,
            ),
            (-0.014, 0.012),
            (0.016, 0.010),
        ),
        (
            Brush(
                handle=0.190,
                ferrule=0.020,
                hair=0.017,
                width=0.0030,
                flat=1.0,
                paint=blue,
                bristle=dark,
                seed=4,
            ),
            (-0.020, -0.004),
            (0.047, -0.004),
        ),
        (
            Brush(
                handle=0.150,
                ferrule=0.024,
                hair=0.025,
                width=0.0046,
                flat=1.6,
                paint=ochre,
                bristle=sable,
                seed=5,
            ),
            (-0.010, -0.016),
            (0.066, 0.016),
        ),
        (
            Brush(
                handle=0.160,
                ferrule=0.022,
                hair=0.026,
                width=0.0048,
                flat=1.0,
                paint=black,
                bristle=hog,
                seed=6,
            ),
            (0.016, 0.006),
            (-0.062, 0.012),
        ),
    )
    for brush, foot, lean in made:
        start = (x + foot[0], 0.006, z + foot[1])
        bodies.append(brush.body(start, (x + lean[0], 0.17, z + lean[1]), (0.2, 0.1, 1.0)))
    return bodies


def _fruit() -> list[Body]:
    """Two pears standing, one lying, a lemon."""
    gold = {"ground": (0.40, 0.40, 0.075), "ripe": (0.56, 0.45, 0.085)}
    green = {"ground": (0.26, 0.34, 0.070), "ripe": (0.42, 0.43, 0.095)}
    red = (0.40, 0.085, 0.035)
    skins = (
        PearSkin(**gold, blush=red, blush_side=(0.9, 0.0, 0.5), blush_share=0.75, size=0.104),
        PearSkin(**green, blush=red, blush_side=(-0.5, 0.2, 0.7), blush_share=0.30, size=0.094),
        PearSkin(**gold, blush=red, blush_side=(0.2, 0.5, 0.6), blush_share=0.60, size=0.098),
    )
    return [
        pear((0.045, 0.0395, 0.055), (30, 2, -4), 0.104, skins[0], 1),
        pear((-0.038, 0.0355, -0.035), (150, 3, 5), 0.094, skins[1], 2),
        pear((0.118, 0.0375, 0.085), (-28, 0, -80), 0.098, skins[2], 3),
        lemon((0.078, 0.0315, 0.165), (20, 0, 74), 0.086),
    ]


def _papers() -> list[Body]:
    """A book, the card against the mug, a pencil across the front."""
    lying = 0.0034
    along = np.array([0.93, 0.0, -0.36]) * PENCIL_LENGTH / float(np.hypot(0.93, 0.36))
    tail = np.array([0.165, lying, 0.262])
    return [
        book((0.245, 0, -0.005), -9),
        card((0.198, 2 * BOOK[1], -0.046), -20, 17),
        pencil(tuple(tail), tuple(tail + along)),
    ]
