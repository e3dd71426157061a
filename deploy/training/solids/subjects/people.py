"""Heads with neck and shoulders, and hands."""

from __future__ import annotations

import torch
from studio import Studio
from torch import Tensor

from solids import surfaces
from solids.slots import FINE
from solids.solids import Place, Solids, Surface, turned
from solids.subjects.placing import looking, numbers, surroundings
from solids.view import Camera

#: So many are dressed in black or nearly.
_IN_BLACK = 0.35


def bust(s: Studio, o: Solids) -> Camera:
    """A head with neck and shoulders."""
    surroundings(s, o, floor=None)
    n, skin, tone = numbers(s), surfaces.skin(s), surfaces.cloth(s)
    if torch.rand(1) < _IN_BLACK:
        tone = surfaces.darker(s, tone, 0.1, 0.4)
    o.begin()
    wide, low = n(0.75, 1.15), n(-1.75, -1.45)
    for side in (-1, 1):
        o.limb(
            ((0.25 * side, low + 0.28, -0.1), (side * wide, low, -0.15)),
            (0.3, 0.34),
            tone,
            melt=0.3,
        )
    o.put("ball", (0.0, low - 0.75, -0.1), (wide + 0.1, 1.0, 0.55), tone, melt=0.3)
    o.chests.append((0.0, low - 0.35, 0.35))
    head(s, o, skin)
    return looking(s, (0.0, n(-1.0, -0.1), 0.0), (-0.25, 0.35), (3.0, 6.5), yaw=0.9)


def hand(s: Studio, o: Solids) -> Camera:
    """A hand with four fingers, bent or not, before something or in the air."""
    surroundings(s, o, floor=None)
    n, skin = numbers(s), surfaces.skin(s)
    o.begin()
    o.put("box", (0.0, 0.0, 0.0), (0.42, 0.45, 0.14), skin, shape=(0.13, 0, 1.0))
    o.limb(((0.0, -0.35, 0.0), (n(-0.2, 0.2), -1.6, 0.0)), (0.36, 0.3), skin, melt=0.2)
    curl, spread = n(0.0, 1.6), n(0.0, 0.2)
    for finger in range(3):
        across, long = -0.32 + 0.3 * finger, (0.5, 0.58, 0.48)[finger]
        bent = curl * n(0.7, 1.2)
        base: Place = (across, 0.42, 0.0)
        knuckle = (
            across + spread * (finger - 1),
            0.42 + long * torch.cos(0.6 * bent),
            long * torch.sin(0.6 * bent),
        )
        tip = (
            knuckle[0] + 0.5 * spread * (finger - 1),
            knuckle[1] + 0.8 * long * torch.cos(1.7 * bent),
            knuckle[2] + 0.8 * long * torch.sin(1.7 * bent),
        )
        o.limb((base, knuckle), (0.15, 0.135), skin, melt=0.05)
        o.limb((knuckle, tip), (0.135, 0.105), skin, melt=0.02)
    way = n(0.0, 1.0)
    o.limb(
        ((0.38, -0.2, 0.06), (0.62 - 0.4 * way, 0.25 + 0.1 * way, 0.1 + 0.45 * way)),
        (0.19, 0.13),
        skin,
        melt=0.08,
    )
    o.put("ball", (0.25, -0.15, 0.12), (0.22, 0.28, 0.16), skin, melt=0.15)
    return looking(s, (0.0, 0.05, 0.0), (-0.8, 0.8), (2.6, 5.0), yaw=3.1)


def head(s: Studio, o: Solids, skin: Surface) -> None:
    """Skull, jaw, nose, lips, ears and hair, in units of half a head's height."""
    b, n = s.b, numbers(s)
    o.begin()
    wide, chin, eye = n(0.64, 0.76), n(0.4, 0.56), n(0.11, 0.16)
    o.put("ball", (0.0, 0.16, -0.12), (wide, 0.84, 0.86), skin)
    o.put("ball", (0.0, -0.36, 0.12), (chin, n(0.52, 0.64), 0.52), skin, melt=0.3)
    o.put("ball", (0.0, -0.78, 0.4), (0.16, 0.13, n(0.1, 0.16)), skin, melt=0.2)
    o.limb(((0.0, -0.4, -0.2), (0.0, -1.5, -0.25)), (0.4, 0.46), skin, melt=0.06)
    for side in (-1, 1):
        o.put(
            "ball",
            (side * 0.3, 0.06, 0.86),
            (0.21, 0.15, n(0.12, 0.2)),
            skin,
            melt=0.16,
            carve=True,
        )
        o.put(
            "ball",
            (side * (wide + 0.02), -0.05, -0.1),
            (0.07, 0.21, 0.13),
            skin,
            turn=turned(0.5 * side, 0.1, 0.0, b.normal()),
            melt=0.02,
            half=0.2,
        )
        o.eyes.append(((side * 0.29, 0.04, 0.72), eye, side))
    nose, low = n(0.88, 1.02), n(-0.36, -0.26)
    o.limb(((0.0, 0.14, 0.66), (0.0, low + 0.06, nose - 0.1)), (0.07, 0.09), skin, melt=0.12)
    o.put("ball", (0.0, low + 0.03, nose - 0.08), (n(0.09, 0.13), 0.1, 0.11), skin, melt=0.1)
    dark = surfaces.darker(s, skin, 0.15, 0.5)
    for side in (-1, 1):
        o.put("ball", (side * n(0.11, 0.15), low, nose - 0.2), (0.085, 0.075, 0.1), skin, melt=0.08)
        o.put(
            "ball", (side * 0.07, low - 0.055, nose - 0.15), (0.045, 0.025, 0.05), dark, half=0.03
        )
    _mouth(s, o, skin)
    _hairdo(s, o, wide)


def _mouth(s: Studio, o: Solids, skin: Surface) -> None:
    """The relief of two lips; what they are painted with comes later."""
    n = numbers(s)
    high, wide, full, deep = n(-0.56, -0.48), n(0.17, 0.26), n(0.035, 0.07), n(0.04, 0.08)
    for up in (1, -1):
        at = (0.0, high + up * 0.8 * full, 0.6)
        o.put("ball", at, (wide, full, deep), skin, melt=0.05, half=full)
    o.mouths.append(((0.0, high, 0.66), 1.0))


def _hairdo(s: Studio, o: Solids, wide: Tensor) -> None:
    """Short or long hair, a cap, or none."""
    n, kind = numbers(s), float(torch.rand(1))
    if kind > 0.9:
        return
    hair, rough = surfaces.hair(s, 0.25), n(0.0, 0.03)
    o.hair = hair.colour
    o.around[:, FINE] = n(6, 20)
    back = n(0.06, 0.2)
    o.put(
        "ball",
        (0.0, 0.3 + back * 0.5, -0.26 - back * 0.4),
        (wide + 0.06 + back * 0.3, 0.76 + back * 0.3, 0.84),
        hair,
        melt=0.01,
        rough=rough,
    )
    if kind < 0.45 and o.room_for("limb"):
        long = n(-1.6, -0.5)
        for side in (-1, 1):
            if o.room_for("limb"):
                o.limb(
                    ((side * (wide - 0.04), 0.3, -0.3), (side * (wide + n(-0.1, 0.2)), long, -0.2)),
                    (0.22, n(0.1, 0.28)),
                    hair,
                    bend=n(-0.1, 0.15),
                    melt=0.05,
                    rough=rough,
                )
