"""What lies on a table: vessels, fruit, books, candles, cloth in folds, and lumps of any solids."""

from __future__ import annotations

import torch
from studio import Studio

from solids import surfaces
from solids.slots import FOLDS, GROUND
from solids.solids import Place, Solids, turned
from solids.subjects.placing import beside, looking, numbers, surroundings
from solids.view import Camera


def still_life(s: Studio, o: Solids) -> Camera:
    """Vessels, fruit, books and boxes on a table, seen a little from above."""
    surroundings(s, o, floor=0.0)
    b = s.b
    for number in range(4):
        at = (b.uniform(-1.6, 1.6).flatten(), 0.0, b.uniform(-0.9, 0.9).flatten())
        _TABLE[int(torch.randint(len(_TABLE), (1,)))](s, o, at, 0.5 if number else 0.8)
    return looking(s, (0.0, 0.45, 0.0), (0.15, 0.9), (2.6, 5.5), yaw=0.8)


def heap(s: Studio, o: Solids) -> Camera:
    """Any solids, melted into each other or not, on a ground or in the air."""
    surroundings(s, o, floor=-1.0 if torch.rand(1) < 0.6 else None)
    for _ in range(int(torch.randint(2, 5, (1,)))):
        _lump(s, o)
    return looking(s, (0.0, 0.0, 0.0), (-0.1, 0.9), (2.8, 6.0), yaw=3.0)


def drapery(s: Studio, o: Solids) -> Camera:
    """Cloth in folds, with something on it."""
    surroundings(s, o, floor=0.0)
    n = numbers(s)
    o.surfaces[GROUND] = surfaces.cloth(s)
    for fold in range(3):
        first = FOLDS + 4 * fold
        o.around[:, first] = n(0.02, 0.28) / (1 + 0.7 * fold)
        o.around[:, first + 1], o.around[:, first + 2] = n(-3.0, 3.0), n(-3.0, 3.0)
        o.around[:, first + 3] = n(0.0, 6.28)
    for _ in range(int(torch.randint(0, 3, (1,)))):
        _fruit(s, o, (n(-0.9, 0.9), 0.1, n(-0.6, 0.6)), 0.5)
    return looking(s, (0.0, 0.1, 0.0), (0.25, 1.2), (1.8, 4.0), yaw=3.1)


def _fruit(s: Studio, o: Solids, at: Place, most: float) -> None:
    n = numbers(s)
    size = n(0.5 * most, 0.8 * most)
    surface = surfaces.made(s, s.paint(plain=0.4, most=0.12), "noise", gloss=0.8, skin=0.3)
    o.begin()
    round_ = beside(at, 0.0, size * 0.9, 0.0)
    o.put("ball", round_, (size, size * n(0.8, 1.1), size), surface)
    if torch.rand(1) < 0.6:
        o.put(
            "ball",
            beside(round_, 0.0, size * 1.05, 0.0),
            (size * 0.35,) * 3,
            surface,
            melt=0.15,
            carve=True,
        )
        o.limb(
            (beside(round_, 0.0, size * 0.7, 0.0), beside(round_, n(-0.1, 0.1), size * 1.3, 0.0)),
            (0.02, 0.025),
            surfaces.made(s, s.dark(0.3), "noise"),
        )


def _vessel(s: Studio, o: Solids, at: Place, most: float) -> None:
    """A cup, bowl, vase, jug, plate or bottle."""
    n = numbers(s)
    clay = surfaces.anything(s)
    low, high = n(0.25, 0.6) * most, n(0.15, 1.8) * most
    top = low * n(0.6, 1.9)
    o.begin()
    o.put(
        "vessel",
        beside(at, 0.0, 0.02, 0.0),
        (low, top, high),
        clay,
        shape=(0.025, n(-0.05, 0.2) * most, n(0.5, 2.0)),
    )
    if torch.rand(1) < 0.6:
        o.put(
            "ring",
            beside(at, 0.5 * (low + top) + 0.1 * most, 0.5 * high, 0.0),
            (0.22 * most, n(0.2, 0.3) * most, n(0.03, 0.06) * most),
            clay,
            melt=0.03,
        )
    if torch.rand(1) < 0.5:
        drink = surfaces.made(s, s.paint(plain=0.8, most=0.05), "noise", gloss=0.9)
        level = n(0.5, 0.9)
        o.put(
            "ball",
            beside(at, 0.0, high * level, 0.0),
            (low + (top - low) * level, 0.01, low + (top - low) * level),
            drink,
        )
    if torch.rand(1) < 0.4:
        out = torch.maximum(low, top) * n(1.2, 1.8)
        o.put("ball", beside(at, 0.0, 0.015, 0.0), (out, 0.02, out), surfaces.like(s, clay))
    if torch.rand(1) < 0.3:
        spoon = surfaces.made(s, s.bright(), "noise", gloss=1.0)
        o.limb(
            (beside(at, 0.1, 0.1, 0.1), beside(at, n(0.2, 0.6), high * 1.3, n(-0.3, 0.3))),
            (0.05 * most, 0.03 * most),
            spoon,
        )


def _crate(s: Studio, o: Solids, at: Place, most: float) -> None:
    """A book, box, brick or block, with another on top."""
    n = numbers(s)
    o.begin()
    size = (n(0.4, 1.0) * most, n(0.08, 0.7) * most, n(0.3, 0.8) * most)
    turn = turned(n(-1.5, 1.5), 0.0, 0.0, s.b.normal())
    o.put(
        "box",
        beside(at, 0.0, size[1], 0.0),
        size,
        surfaces.anything(s),
        turn=turn,
        shape=(n(0.002, 0.04), 0.0, 1.0),
    )
    if torch.rand(1) < 0.4:
        o.put(
            "ball",
            beside(at, 0.0, 2 * size[1] + 0.2 * most, 0.0),
            (0.25 * most,) * 3,
            surfaces.anything(s),
        )


def _candle(s: Studio, o: Solids, at: Place, most: float) -> None:
    """Upright or lying limbs: candles, sticks, brushes, bananas."""
    n = numbers(s)
    for_all = surfaces.anything(s)
    o.begin()
    for _ in range(int(torch.randint(1, 3, (1,)))):
        radius = n(0.04, 0.2) * most
        lies = n(0.0, 1.0) * float(torch.rand(1) < 0.6)
        o.limb(
            (
                beside(at, 0.0, radius, n(-0.3, 0.3)),
                beside(at, lies * 1.6 * most, radius + (1 - lies) * 1.5 * most, n(-0.4, 0.4)),
            ),
            (radius, radius * n(0.3, 1.1)),
            surfaces.like(s, for_all),
            bend=n(-0.3, 0.3) * most,
        )


def _lump(s: Studio, o: Solids) -> None:
    """Balls, boxes, limbs and rings in one."""
    n = numbers(s)
    surface = surfaces.anything(s)
    o.begin()
    middle = (n(-0.9, 0.9), n(-0.6, 0.7), n(-0.8, 0.8))
    melt = n(0.0, 0.35) * float(torch.rand(1) < 0.7)
    rough = n(0.0, 0.05) * float(torch.rand(1) < 0.2)
    for kind in ("box", "ring", "ball", "ball", "ball", "limb"):
        if torch.rand(1) < 0.45:
            continue
        at = beside(middle, n(-0.4, 0.4), n(-0.4, 0.4), n(-0.4, 0.4))
        own = surface if torch.rand(1) < 0.6 else surfaces.like(s, surface, 0.12)
        turn = turned(n(-3, 3), n(-1.5, 1.5), n(-3, 3), s.b.normal())
        size = (n(0.12, 0.5), n(0.12, 0.5), n(0.12, 0.5))
        if kind == "ring":
            size = (size[0], size[1], n(0.04, 0.15))
        elif kind == "limb":
            size = (size[0] * 1.4, 0.4 * size[1], 0.4 * size[2])
        shape = (n(0.002, 0.08), 0.0, 1.0)
        carve = kind == "ball" and bool(torch.rand(1) < 0.15)
        o.put(kind, at, size, own, turn=turn, shape=shape, melt=melt, carve=carve, rough=rough)


_TABLE = (_vessel, _vessel, _fruit, _fruit, _crate, _candle, lambda s, o, *_: _lump(s, o))
