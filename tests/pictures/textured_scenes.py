"""Made-up scenes of textured things on textured grounds, whose contours are known exactly.

What known drawings of flat shapes cannot ask: whether contours are told from the marks inside
a texture. Shapes are given by a radius for each direction, so that both what lies inside and
the contour itself follow from one formula. Everything is drawn with NumPy from a seed; no
photograph is used. The kinds of texture are in `tests/pictures/textures.py`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.pictures.known_lines import Bytes, Drawing, Floats
from tests.pictures.textures import TEXTURES

WIDTH_MM, HEIGHT_MM = 600.0, 400.0
PX_PER_MM = 4
#: Each pixel along a contour is the mean of so many samples a side.
_FINER = 8
_CELL_MM = 100.0
_STEP_MM = 0.1
#: A thing differs from what is around it by at least so many levels in the mean.
_LEAST_STEP = 28.0

Radius = Callable[[Floats], Floats]


@dataclass(frozen=True)
class Thing:
    """A shape with its mean, and which texture it has, how strong and how coarse."""

    x: float
    y: float
    radius: Radius
    most_mm: float
    level: float
    texture: str
    strength: float
    seed: int

    def holds(self, x: Floats, y: Floats) -> np.ndarray:
        """Which places lie inside."""
        far = np.hypot(x - self.x, y - self.y)
        inside = np.zeros(far.shape, bool)
        near = far <= self.most_mm
        angle = np.arctan2(*np.broadcast_arrays(y - self.y, x - self.x))[near]
        inside[near] = far[near] < self.radius(angle)
        return inside

    def contour(self) -> Floats:
        """Places every 0.1 mm along its contour."""
        angle = np.linspace(0, math.tau, 40_001)
        far = self.radius(angle)
        path = np.stack((self.x + far * np.cos(angle), self.y + far * np.sin(angle)), axis=1)
        along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))))
        at = np.arange(0.0, along[-1], _STEP_MM)
        return np.stack([np.interp(at, along, path[:, axis]) for axis in (0, 1)], axis=1)


def textured(seed: int, *, strength: float = 1.0) -> Drawing:
    """A scene of 60 x 40 cm, 4 px to the millimetre.

    Args:
        seed: Of everything that is random.
        strength: What the textures are multiplied by; 0 leaves flat shapes.
    """
    random = np.random.default_rng(seed)
    names = list(random.permutation(list(TEXTURES)))
    ground = Thing(0, 0, lambda angle: 0 * angle, 0, random.uniform(95, 160), names[0], 16.0, seed)
    things = _things(random, names, ground)
    lines = np.concatenate([_seen(things, number) for number in range(len(things))])
    edge = (WIDTH_MM, HEIGHT_MM)
    lines = lines[((lines > 0.5) & (lines < np.subtract(edge, 0.5))).all(axis=1)]
    return Drawing(_painted(ground, things, strength), lines, np.zeros(len(lines)))


def _things(random: np.random.Generator, names: list[str], ground: Thing) -> list[Thing]:
    """One in each cell of 10 cm, out of its middle, so that some overlap."""
    things: list[Thing] = []
    for y in np.arange(_CELL_MM / 2, HEIGHT_MM, _CELL_MM):
        for x in np.arange(_CELL_MM / 2, WIDTH_MM, _CELL_MM):
            number = len(things)
            size = random.uniform(26.0, 52.0)
            level = _level(random, [ground.level, *(each.level for each in things[-7:])])
            radius = _RADII[number % len(_RADII)](random, size)
            things.append(
                Thing(
                    x=x + random.uniform(-18, 18),
                    y=y + random.uniform(-18, 18),
                    radius=radius,
                    most_mm=float(radius(np.linspace(0, math.tau, 4000)).max()) + 0.1,
                    level=level,
                    texture=names[number % len(names)],
                    strength=random.uniform(9.0, 22.0),
                    seed=int(random.integers(1_000_000)),
                )
            )
    return things


def _level(random: np.random.Generator, others: list[float]) -> float:
    """A mean that differs from all others, as far as there is one."""
    tries = random.uniform(40, 215, 60)
    apart = np.abs(tries[:, None] - others).min(axis=1)
    enough = tries[apart >= _LEAST_STEP]
    return float(enough[0] if len(enough) else tries[apart.argmax()])


def _oval(random: np.random.Generator, size: float) -> Radius:
    """A superellipse (Lamé)."""
    power, flat, turn = random.uniform(2.0, 4.0), random.uniform(0.55, 1.0), random.uniform(0, 3)

    def radius(angle: Floats) -> Floats:
        across, down = np.abs(np.cos(angle - turn)), np.abs(np.sin(angle - turn)) / flat
        return np.asarray(size * (across**power + down**power) ** (-1 / power))

    return radius


def _lobed(random: np.random.Generator, size: float) -> Radius:
    """Waves around a circle."""
    count, depth, turn = random.integers(2, 6), random.uniform(0.08, 0.22), random.uniform(0, 6)
    return lambda angle: size * (1 - depth + depth * np.cos(count * angle + turn))


def _many_sided(random: np.random.Generator, size: float) -> Radius:
    """A convex polygon: the nearest of its sides, in each direction."""
    count = int(random.integers(3, 8))
    normals = math.tau * (np.arange(count) + random.uniform(-0.25, 0.25, count)) / count
    away = size * random.uniform(0.6, 0.75, count)

    def radius(angle: Floats) -> Floats:
        facing = np.cos(angle[:, None] - normals)
        with np.errstate(divide="ignore"):
            return np.where(facing > 0.05, away / facing, np.inf).min(axis=1).clip(0, 1.5 * size)

    return radius


def _scalloped(random: np.random.Generator, size: float) -> Radius:
    """Round bulges that meet in notches."""
    count, depth, turn = random.integers(5, 10), random.uniform(0.1, 0.25), random.uniform(0, 6)
    return lambda angle: size * (1 - depth + depth * np.abs(np.sin(count * angle / 2 + turn)))


_RADII = (_oval, _lobed, _many_sided, _scalloped)


def _seen(things: list[Thing], number: int) -> Floats:
    """What is seen of a contour: later things lie above earlier ones."""
    places = things[number].contour()
    for above in things[number + 1 :]:
        places = places[~above.holds(places[:, 0], places[:, 1])]
    return places


def _painted(ground: Thing, things: list[Thing], strength: float) -> Bytes:
    """The picture: each thing covers what is below it by its share of each pixel."""
    x = (np.arange(round(WIDTH_MM * PX_PER_MM)) + 0.5) / PX_PER_MM
    y = (np.arange(round(HEIGHT_MM * PX_PER_MM)) + 0.5) / PX_PER_MM
    whole = _surface(ground, x, y, strength)
    for thing in things:
        columns = slice(*np.searchsorted(x, (thing.x - thing.most_mm, thing.x + thing.most_mm)))
        rows = slice(*np.searchsorted(y, (thing.y - thing.most_mm, thing.y + thing.most_mm)))
        share = _covered(thing, x[columns], y[rows])
        part = whole[rows, columns]
        part += share * (_surface(thing, x[columns], y[rows], strength) - part)
    return np.clip(np.rint(whole), 0, 255).astype(np.uint8)


def _surface(thing: Thing, x: Floats, y: Floats, strength: float) -> Floats:
    """Level and marks of a thing at the middles of pixels."""
    if not strength:
        return np.full((len(y), len(x)), thing.level)
    marks = TEXTURES[thing.texture](thing.seed)(x[None], y[:, None])
    return np.asarray(thing.level + strength * thing.strength * marks)


def _covered(thing: Thing, x: Floats, y: Floats) -> Floats:
    """The share of each pixel that lies inside; along the contour from samples within it."""
    across, down = np.meshgrid(x, y)
    inside = thing.holds(across, down)
    share = inside.astype(np.float64)
    around = np.pad(inside, 1, mode="edge")
    rows, columns = inside.shape
    near = [around[i : i + rows, j : j + columns] for i in range(3) for j in range(3)]
    mixed = np.logical_or.reduce(near) & ~np.logical_and.reduce(near)
    aside = ((np.arange(_FINER) + 0.5) / _FINER - 0.5) / PX_PER_MM
    fine_x = across[mixed][:, None, None] + aside
    fine_y = down[mixed][:, None, None] + aside[:, None]
    share[mixed] = thing.holds(fine_x, fine_y).mean(axis=(1, 2))
    return share
