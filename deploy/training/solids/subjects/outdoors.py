"""Animals, flowers, woods, streets."""

from __future__ import annotations

import torch
from studio import Studio

from solids import surfaces
from solids.slots import FINE, FOLDS, GROUND
from solids.solids import Solids, turned
from solids.subjects.placing import beside, looking, numbers, surroundings
from solids.view import Camera


def creature(s: Studio, o: Solids) -> Camera:
    """A furry animal that sits or stands."""
    surroundings(s, o, floor=-1.0)
    b, n = s.b, numbers(s)
    fur = surfaces.hair(s, 0.35)
    light, rough = surfaces.like(s, fur, 0.06), n(0.0, 0.025)
    o.begin()
    sits = n(0.1, 1.2)
    o.put(
        "ball",
        (0.0, -0.35, 0.0),
        (n(0.4, 0.6), n(0.45, 0.6), n(0.6, 0.9)),
        fur,
        turn=turned(0.0, sits, 0.0, b.normal()),
        rough=rough,
    )
    head = (n(-0.15, 0.15), n(0.25, 0.5), n(0.45, 0.8))
    size = n(0.28, 0.4)
    o.put(
        "ball",
        (0.5 * head[0], 0.5 * head[1] - 0.05, 0.6 * head[2]),
        (0.3, 0.36, 0.36),
        fur,
        melt=0.25,
        rough=rough,
    )
    o.put("ball", head, (size, size * n(0.85, 1.0), size), fur, melt=0.18, rough=rough)
    o.put(
        "ball",
        beside(head, 0.0, -0.3 * size, 0.85 * size),
        (size * 0.45, size * 0.4, size * n(0.3, 0.7)),
        light,
        melt=0.12,
        rough=rough,
    )
    for side in (-1, 1):
        o.put(
            "ball",
            beside(head, side * 0.62 * size, n(0.7, 1.0) * size, -0.15 * size),
            (size * 0.34, size * n(0.35, 1.0), size * 0.13),
            fur,
            turn=turned(0.3 * side, 0.0, -0.35 * side, b.normal()),
            melt=0.05,
            rough=rough,
        )
        eye = surfaces.made(s, s.dark(0.1), "noise", gloss=1.0)
        o.put(
            "ball",
            beside(head, side * 0.42 * size, 0.18 * size, 0.82 * size),
            (size * 0.17,) * 3,
            eye,
        )
        o.limb(
            ((side * n(0.2, 0.35), -0.5, 0.55), (side * n(0.2, 0.4), -0.98, n(0.5, 0.9))),
            (0.14, 0.09),
            fur,
            melt=0.12,
            rough=rough,
        )
        o.limb(
            ((side * n(0.3, 0.45), -0.6, -0.45), (side * n(0.3, 0.5), -0.98, n(-0.6, 0.0))),
            (0.2, 0.1),
            fur,
            melt=0.15,
            rough=rough,
        )
    nose = surfaces.made(s, s.dark(0.3), "noise", gloss=0.6)
    o.put("ball", beside(head, 0.0, -0.15 * size, 1.4 * size), (size * 0.13,) * 3, nose, melt=0.02)
    o.limb(
        ((0.0, -0.6, -0.7), (n(-0.9, 0.9), n(-0.8, 0.8), n(-1.4, -0.6))),
        (0.16, n(0.04, 0.32)),
        surfaces.like(s, fur, 0.08),
        bend=n(-0.3, 0.3),
        melt=0.15,
        rough=rough,
    )
    o.around[:, FINE] = n(8, 22)
    # At the whole of it, or at its head.
    near = n(0.0, 1.0)
    to = (near * head[0], near * head[1] - 0.1, near * head[2])
    return looking(s, to, (-0.05, 0.5), (2.4, 5.0), yaw=1.3)


def flower(s: Studio, o: Solids) -> Camera:
    """Petals around a heart, with stem and leaves."""
    surroundings(s, o, floor=None)
    b, n = s.b, numbers(s)
    petal = surfaces.made(s, s.paint(plain=0.6, most=0.05), "noise", "hair", skin=0.5)
    green = surfaces.made(s, s.paint(plain=0.5, most=0.08), "noise", "leaves")
    o.begin()
    count, cup = int(torch.randint(5, 19, (1,))), n(-0.3, 0.9)
    long, wide = n(0.4, 0.75), n(0.1, 0.34)
    for number in range(count):
        angle = torch.zeros_like(cup) + 6.2832 * number / count + n(-0.12, 0.12)
        lift = cup + n(-0.25, 0.25) + n(0.0, 0.3) * (number % 2)
        away = 0.14 + long * torch.cos(lift)
        at = (away * torch.cos(angle), away * torch.sin(angle), long * torch.sin(lift))
        # Its length lies away from the heart, raised by as much as the flower is shut.
        first = torch.stack(
            [
                torch.cos(lift) * torch.cos(angle),
                torch.cos(lift) * torch.sin(angle),
                torch.sin(lift),
            ],
            1,
        )
        second = torch.stack([-torch.sin(angle), torch.cos(angle), torch.zeros_like(angle)], 1)
        turn = torch.stack([first, second, torch.linalg.cross(first, second)], 1)
        size = (long * n(0.85, 1.1), wide * n(0.7, 1.2), n(0.02, 0.05))
        o.put("ball", at, size, surfaces.like(s, petal, 0.01), turn=turn)
    heart = surfaces.made(s, s.paint(plain=0.1, most=0.3), "leaves", "built")
    o.put("ball", (0.0, 0.0, 0.02), (0.2, 0.2, n(0.06, 0.2)), heart)
    o.limb(((0.0, 0.0, -0.1), (n(-0.4, 0.4), -2.2, -0.5)), (0.04, 0.05), green)
    if count < 11:
        o.put(
            "ball",
            (n(0.2, 0.5), -1.1, -0.3),
            (0.5, 0.16, 0.03),
            green,
            turn=turned(0.3, 0.4, n(-0.6, 0.6), b.normal()),
        )
    # From as near as a part of it fills the picture.
    near = n(0.0, 1.0)
    to = (near * n(-0.5, 0.5), near * n(-0.5, 0.5), 0.1)
    return looking(s, to, (-0.5, 0.9), (0.9, 4.0), yaw=0.9)


def street(s: Studio, o: Solids) -> Camera:
    """Houses along a street or a yard, walls with openings, steps, a chimney."""
    surroundings(s, o, floor=0.0, back=False)
    n = numbers(s)
    for number in range(4):
        o.begin()
        wall = surfaces.wall(s)
        side = -1 if number % 2 else 1
        high, deep = n(0.6, 2.2), n(0.5, 1.0)
        at = (side * n(0.9, 2.2), high, 1.4 - 1.6 * (number // 2) + n(-0.5, 0.5))
        o.put("box", at, (n(0.4, 0.9), high, deep), wall)
        roof = surfaces.made(s, s.paint(plain=0.3, most=0.15), "tiles", "built", "noise")
        o.put("ring", beside(at, 0.0, 0.35 * high, deep), (0.16, n(0.16, 0.25), 0.03), roof)
        o.limb(
            (beside(at, 0.0, high, deep), beside(at, 0.0, high, -1.0 * deep)), (0.12, 0.12), roof
        )
        o.put(
            "ball",
            beside(at, n(-0.3, 0.3), -0.6 * high, 1.2 * deep),
            (n(0.1, 0.4),) * 3,
            surfaces.leaves(s),
            rough=n(0.0, 0.05),
        )
    return looking(s, (0.0, 1.0, 0.0), (-0.05, 0.35), (3.5, 7.0), yaw=0.7)


def woods(s: Studio, o: Solids) -> Camera:
    """Trunks on uneven ground, and bushes."""
    surroundings(s, o, floor=0.0, back=bool(torch.rand(1) < 0.4))
    n = numbers(s)
    o.surfaces[GROUND] = surfaces.leaves(s)
    o.around[:, FOLDS], o.around[:, FOLDS + 1] = n(0.0, 0.15), n(-1.0, 1.0)
    bark = surfaces.made(s, s.paint(plain=0.1, most=0.2), "hair", "noise")
    o.around[:, FINE] = n(6, 14)
    o.begin()
    while o.room_for("limb"):
        at, wide = (n(-2.2, 2.2), n(-4.0, 1.5)), n(0.04, 0.2)
        o.limb(
            ((at[0], -0.1, at[1]), (at[0] + n(-0.3, 0.3), 4.0, at[1])),
            (wide * 1.2, wide * 0.6),
            surfaces.like(s, bark),
            rough=n(0.0, 0.02),
        )
    for _ in range(int(torch.randint(0, 5, (1,)))):
        size = n(0.15, 0.5)
        o.put(
            "ball",
            (n(-1.8, 1.8), 0.6 * size, n(-2.0, 1.5)),
            (size, 0.8 * size, size),
            surfaces.leaves(s),
            rough=n(0.02, 0.08),
        )
    return looking(s, (0.0, 0.9, 0.0), (0.0, 0.2), (3.5, 6.0), yaw=0.5)
