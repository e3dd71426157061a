"""Whole people, clothed, standing or sitting, alone: arms before bodies, legs beside legs."""

from __future__ import annotations

import torch
from studio import Studio

from solids import surfaces
from solids.solids import Place, Solids, Surface, flat, towards
from solids.subjects.people import head
from solids.subjects.placing import looking, numbers, surroundings
from solids.view import Camera


def figure(s: Studio, o: Solids) -> Camera:
    """A person from the hip or the feet up, arms anywhere."""
    surroundings(s, o, floor=-7.2 if torch.rand(1) < 0.5 else None)
    n, skin = numbers(s), surfaces.skin(s)
    above, below = surfaces.cloth(s), surfaces.cloth(s)
    sleeve = above if torch.rand(1) < 0.5 else skin
    head(s, o, skin)
    o.begin()
    wide, waist = n(0.75, 1.05), n(0.55, 0.85)
    o.put("ball", (0.0, -2.15, -0.15), (wide, 0.85, 0.5), above)
    o.put("ball", (0.0, -3.1, -0.15), (waist, 0.9, 0.45), above, melt=0.3)
    o.put("ball", (0.0, -3.9, -0.15), (waist + n(0.0, 0.25), 0.7, 0.5), below, melt=0.12)
    o.chests.append((0.0, -2.0, 0.3))
    long = torch.rand(1) < 0.3
    for side in (-1, 1):
        shoulder = (side * (wide - 0.08), -1.72, -0.15)
        elbow = (side * (wide + n(0.0, 0.5)), n(-3.2, -2.7), n(-0.3, 0.4))
        hand = (side * n(-0.5, 1.6), elbow[1] + n(-1.1, 0.9), n(0.2, 0.9))
        _arm(o, (shoulder, elbow, hand), (sleeve, sleeve if long else skin))
        o.put("ball", hand, (0.16, 0.22, 0.12), skin, melt=0.08)
    shin = below if torch.rand(1) < 0.6 else skin
    for side in (-1, 1):
        hip = (side * 0.38, n(-4.3, -4.0), n(-0.2, -0.1))
        knee = (side * n(0.3, 0.8), n(-5.8, -5.4), n(-0.1, 0.9))
        foot = (side * n(0.3, 0.9), n(-7.2, -6.9), n(-0.6, 0.4))
        _spindle(o, (hip, knee), 0.36, below)
        _spindle(o, (knee, foot), 0.24, shin)
    return looking(s, (0.0, n(-3.2, -1.2), 0.0), (-0.15, 0.3), (7.0, 16.0), 1.2, (0.1, 0.35))


def _arm(o: Solids, joints: tuple[Place, Place, Place], sleeves: tuple[Surface, Surface]) -> None:
    """Upper arm and forearm."""
    for part, radii in enumerate(((0.27, 0.21), (0.21, 0.13))):
        o.limb((joints[part], joints[part + 1]), radii, sleeves[part], melt=0.04)


def _spindle(o: Solids, ends: tuple[Place, Place], radius: float, surface: Surface) -> None:
    """A long ball from one place to another and a little beyond."""
    low, high = (torch.stack([flat(each) + 0.0 * flat(end[1]) for each in end], 1) for end in ends)
    half = 0.56 * (high - low).norm(dim=1)
    middle = tuple(((low + high) / 2).unbind(1))
    turn = towards(high - low)
    o.put("ball", middle, (radius, half, radius), surface, turn=turn, melt=0.06)
