"""Things to paint: hands, flowers, cloth, vessels, trees, letters; how often each, and how large.

None is like any photograph; each is put together from parts whose places and sizes vary so much
that only what is common to its kind remains. Sizes are in the thing's own unit.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import torch
from canvas import Paint
from fields import AWAY, Frame, blob, box, capsule, curve, ellipse, placed, polygon
from studio import Studio, crease, folds
from torch import Tensor

from painted.animals import animal, profile
from painted.built import building, lattice, turned
from painted.eyes import eyes
from painted.heads import head

#: Strokes of less than this half width are one line, wider ones two.
_STROKE_PX = 1.5
#: So many limbs are of wood, whose bark has lines of its own.
_BARK = 0.25
#: So often only a part of the main thing fills the picture, and up to so many times as large.
_CLOSE_UPS, _CLOSEST = 0.3, 2.4


def anything(s: Studio, f: Frame) -> None:
    """A blob or a polygon with a few folds, at times ragged."""
    distance = blob(s.b, f) if torch.rand(1) < 0.6 else polygon(s.b, f)
    if torch.rand(1) < 0.25:
        distance = distance + s.ragged(f)
    s.canvas.new_thing()
    light = s.round(f) if torch.rand(1) < 0.5 else s.flat(f)
    s.canvas.part(f.px(distance), s.paint(), light)
    if torch.rand(1) < 0.3:
        folds(s, f, int(torch.randint(1, 4, (1,))), distance)


def thread(s: Studio, f: Frame) -> None:
    """A wire, twig, whisker or scratch: one line, or two where it is wide."""
    points = tuple((s.b.uniform(-1.5, 1.5), s.b.uniform(-1.5, 1.5)) for _ in range(3))
    off, _, _ = curve(f, points)
    s.canvas.new_thing()
    if torch.rand(1) < 0.65:
        s.canvas.thread(f.px(off), s.b.geometric(0.35, 1.4), s.paint(plain=0.8, most=0.05))
    else:
        wide = s.b.geometric(2.2, 7)
        s.canvas.part(
            f.px(off) - wide, s.paint(most=0.06), s.limb(off - wide / f.unit_px, wide / f.unit_px)
        )


def cloth(s: Studio, f: Frame) -> None:
    """A hanging or lying cloth with folds along it."""
    s.canvas.new_thing()
    distance = polygon(s.b, f) if torch.rand(1) < 0.5 else blob(s.b, f, 0.4)
    s.canvas.part(f.px(distance), s.paint(plain=0.5, most=0.12), s.flat(f))
    lean = s.b.uniform(-0.5, 0.5)
    for _ in range(int(torch.randint(3, 9, (1,)))):
        at = s.b.uniform(-0.9, 0.9)
        bend = at + 0.25 * s.b.normal()
        points = ((at, s.b.uniform(-1, 0)), (bend, 0.0), (at + lean, s.b.uniform(0.1, 1)))
        crease(s, f, points, deep=0.6, within=distance)


def hand(s: Studio, f: Frame) -> None:
    """A hand: limbs of one colour side by side, told apart by light alone."""
    b, c = s.b, s.canvas
    skin = s.skin()
    c.new_thing()
    c.part(f.px(capsule(f, (0.0, 0.6, b.uniform(-0.3, 0.3), 2.2), (0.42, 0.5))), skin, s.flat(f))
    c.part(f.px(box(f, 0, 0.2, 0.42, 0.5) - 0.12), skin, s.flat(f), worth=0.4)
    bend, spread = b.uniform(0.1, 1), b.uniform(0, 0.35)
    for finger in range(4):
        at, long = -0.42 + 0.28 * finger, (0.85, 1.0, 0.95, 0.7)[finger] * bend
        lean = (finger - 1.5) * spread
        limb = capsule(f, (at, -0.2, at + lean, -0.2 - long), (0.16, 0.12))
        c.part(f.px(limb), s.like(skin, 0.015), s.limb(limb, 0.15))
        for joint in (0.35, 0.7):
            u, v = at + lean * joint, -0.2 - long * joint
            crease(s, f, ((u - 0.12, v), (u, v + 0.03), (u + 0.12, v)), deep=0.3)
        nail = ellipse(f, at + lean, -0.2 - long, 0.07, 0.1)
        c.part(f.px(nail), s.like(skin, 0.06), 1.05 + 0 * f.u, worth=0.8)
    thumb = capsule(f, (0.4, 0.5, b.uniform(0.4, 0.95), b.uniform(-0.4, 0.3)), (0.2, 0.14))
    c.part(f.px(thumb), skin, s.limb(thumb, 0.18))


def limbs(s: Studio, f: Frame) -> None:
    """Pipes, legs, stems, fruit stalks, folded arms: limbs of one paint over each other."""
    paint = s.paint(plain=0.5, most=0.1)
    if torch.rand(1) < _BARK:
        paint = s.paint(plain=0.0, most=0.3, among=s.bank.hair)
    s.canvas.new_thing()
    for _ in range(int(torch.randint(2, 7, (1,)))):
        ends = tuple(s.b.uniform(-1, 1) for _ in range(4))
        radius = s.b.geometric(0.06, 0.3)
        limb = capsule(f, ends, (radius, radius * s.b.uniform(0.5, 1)))
        s.canvas.part(f.px(limb), s.like(paint, 0.02), s.limb(limb, radius))


def flower(s: Studio, f: Frame) -> None:
    """Petals of one colour over each other, a heart, a stem with leaves."""
    b, c = s.b, s.canvas
    petal, green = s.paint(plain=0.6, most=0.06), s.paint(plain=0.4, most=0.08)
    c.new_thing()
    stem, _, _ = curve(f, ((0.0, 0.3), (b.uniform(-0.3, 0.3), 1.2), (b.uniform(-0.5, 0.5), 2.4)))
    c.part(f.px(stem - b.uniform(0.03, 0.08)), green, s.limb(stem - 0.06, 0.06))
    leaf = f.moved(0.35, 1.4, 0.5)
    c.part(f.px(ellipse(leaf, 0.3, 0, 0.9, 0.3) * 0.5), s.like(green, 0.05), s.flat(leaf))
    crease(s, leaf, ((-0.5, 0.0), (0.3, 0.03), (1.1, 0.0)), deep=0.4)
    c.new_thing()
    full = torch.rand(1) < 0.4
    count, wide = int(torch.randint(5, 20 if full else 13, (1,))), b.uniform(0.5, 1.2)
    rings = int(torch.randint(3, 7, (1,))) if full else int(torch.randint(1, 4, (1,)))
    for ring in range(rings):
        size = 1 - (0.85 / rings if full else 0.27) * ring
        for number in range(count):
            _petal(s, f, petal, 2 * math.pi * (number + 0.5 * ring) / count, size, wide / count * 5)
    heart = blob(b, f.moved(0, 0, b.uniform(0.12, 0.35)), 0.15)
    c.part(f.px(heart * 0.2), s.paint(plain=0.1, most=0.3), s.round(f.moved(0, 0, 0.35)))


def _petal(s: Studio, f: Frame, paint: Paint, angle: float, size: float, wide: Tensor) -> None:
    b = s.b
    turn = angle + 0.12 * b.normal()
    p = Frame(
        f.u * torch.cos(turn) + f.v * torch.sin(turn),
        -f.u * torch.sin(turn) + f.v * torch.cos(turn),
        f.unit_px,
    )
    shape = ellipse(p, 0.55 * size, 0, 0.5 * size, 0.26 * size * wide)
    base = b.uniform(0, 0.65) * (1 - (p.u / size).clamp(0, 1))
    light = 1 - base + b.uniform(-0.25, 0.25) * p.v / 0.3
    if torch.rand(1) < 0.5:
        under = torch.sigmoid(-p.px(shape - 0.03) / 2.0)
        s.canvas.shade(1 - b.uniform(0, 0.45) * under)
    s.canvas.part(p.px(shape), s.like(paint, 0.012), light.clamp(0.3, 1.3))
    if torch.rand(1) < 0.25:
        crease(
            s,
            p,
            ((0.1 * size, 0.0), (0.5 * size, 0.02), (0.95 * size, 0.0)),
            deep=0.25,
            within=shape,
        )


def vessel(s: Studio, f: Frame) -> None:
    """A cup, bowl, vase or bottle with rim, handle, saucer and reflections."""
    b, c = s.b, s.canvas
    paint, flat = s.paint(plain=0.7, most=0.08), b.uniform(0.08, 0.4)
    top, low, high = b.uniform(0.4, 0.9), b.uniform(0.25, 0.8), b.uniform(0.5, 1.3)
    if torch.rand(1) < 0.5:
        c.new_thing()
        plate, out = s.like(paint, 0.05), b.uniform(1.0, 1.6)
        c.part(f.px(ellipse(f, 0, high, out, out * flat * 1.2)), plate, s.flat(f))
        c.part(
            f.px(ellipse(f, 0, high - 0.03, out * 0.92, out * flat * 1.05)),
            s.like(plate, 0.03),
            s.flat(f),
            worth=0.9,
        )
        c.shadow(
            torch.sigmoid(-f.px(ellipse(f, 0.15, high, low * 1.1, low * flat * 1.3))),
            b.uniform(0, 0.5),
            3.0,
        )
    c.new_thing()
    if torch.rand(1) < 0.6:
        ring = ellipse(
            f, top, high * 0.4, b.uniform(0.25, 0.45), b.uniform(0.25, 0.4)
        ).abs() - b.uniform(0.03, 0.08)
        c.part(f.px(ring), paint, s.limb(ring, 0.06))
    share = (f.v / high).clamp(0, 1)
    half = (
        top
        + (low - top) * share ** b.uniform(0.5, 2)
        + b.uniform(-0.1, 0.2) * torch.sin(share * math.pi)
    )
    side = torch.maximum(torch.maximum(f.u.abs() - half, -f.v), f.v - high)
    body = torch.minimum(side, ellipse(f, 0, high, low, low * flat))
    c.part(f.px(body), paint, s.round(f, 1.05 * half.clamp(0.2, 2), 8.0))
    c.part(f.px(ellipse(f, 0, 0, top, top * flat)), s.like(paint, 0.04), s.flat(f))
    inside = ellipse(f, 0, 0.01, top * 0.92, top * flat * 0.88)
    c.part(f.px(inside), s.paint(plain=0.6, most=0.06), 0.8 * s.flat(f), worth=0.95)
    if torch.rand(1) < 0.5:
        level = ellipse(f, 0, 0.12, top * 0.8, top * flat * 0.7)
        c.part(f.px(torch.maximum(level, inside)), s.dark(0.35), s.flat(f))
    shine = ellipse(f, b.uniform(-0.5, 0.5) * top, high * 0.45, 0.07, high * 0.3)
    c.shadow(torch.sigmoid(-f.px(shine)), -b.uniform(0, 1.2), float(0.6 + 2 * torch.rand(1)))


def tree(s: Studio, f: Frame) -> None:
    """A trunk with boughs, and clumps of leaves whose outline counts and whose leaves do not."""
    b, c = s.b, s.canvas
    bark, leaf = s.paint(plain=0.1, most=0.2, among=s.bank.hair), s.leafy()
    c.new_thing()
    trunk = capsule(f, (0.0, 0.2, b.uniform(-0.2, 0.2), 1.8), (b.uniform(0.05, 0.15), 0.18))
    c.part(f.px(trunk), bark, s.limb(trunk, 0.15))
    for _ in range(int(torch.randint(1, 6, (1,)))):
        bough, along, _ = curve(
            f,
            (
                (0.0, b.uniform(0, 0.8)),
                (b.uniform(-0.4, 0.4), 0.0),
                (b.uniform(-1, 1), b.uniform(-1, 0.2)),
            ),
        )
        thick = f.px(0.07 * (1.1 - along)) * b.uniform(0.3, 1)
        if torch.rand(1) < 0.5:
            c.thread(f.px(bough), thick.clamp(0.3, 1.3), bark)
        else:
            c.part(f.px(bough) - thick, bark, 1 + 0 * f.u, worth=0.6)
    if torch.rand(1) < 0.8:
        for _ in range(int(torch.randint(2, 8, (1,)))):
            clump = f.moved(b.uniform(-0.8, 0.8), b.uniform(-0.9, 0.2), b.geometric(0.25, 0.7))
            edge = blob(b, clump) + 1.5 * s.ragged(clump, 5)
            c.part(clump.px(edge), s.like(leaf, 0.05), s.round(clump), worth=0.45)


def letters(s: Studio, f: Frame) -> None:
    """A sign, label or page with strokes like letters."""
    b, c = s.b, s.canvas
    ground, ink = s.paint(plain=0.7, most=0.08), s.paint(plain=0.9, most=0.05)
    c.new_thing()
    c.part(f.px(box(f, 0, 0, 1.2, b.uniform(0.35, 0.9))), ground, s.flat(f))
    pitch, thick = b.uniform(0.28, 0.5), b.uniform(0.02, 0.07)
    drawn = torch.full_like(f.u + f.v, 1e3)
    for letter in range(6):
        g = f.moved((letter - 2.5) * pitch, 0.0, pitch * 0.8)
        for _ in range(int(torch.randint(1, 4, (1,)))):
            kind = int(torch.randint(0, 3, (1,)))
            if kind == 0:
                ends = tuple(
                    torch.randint(-1, 2, (b.scenes, 1, 1), device=b.device) * 0.45 for _ in range(4)
                )
                stroke = capsule(g, ends, (0.0, 0.0))
            elif kind == 1:
                stroke = ellipse(g, 0, b.uniform(-0.2, 0.2), 0.35, b.uniform(0.2, 0.45)).abs()
            else:
                stroke, _, _ = curve(
                    g, tuple((b.uniform(-0.5, 0.5), b.uniform(-0.5, 0.5)) for _ in range(3))
                )
            drawn = torch.minimum(drawn, g.px(stroke) / f.unit_px)
    wide_px = f.px(thick)
    fine = (wide_px < _STROKE_PX).float()
    c.thread(f.px(drawn) + AWAY * (1 - fine), wide_px.clamp(0.35, _STROKE_PX), ink)
    c.part(f.px(drawn) - wide_px + AWAY * fine, ink, 1 + 0 * f.u)


def stones(s: Studio, f: Frame) -> None:
    """Fruit, stones, eggs, heads of a crowd: round things of one kind over each other."""
    paint = s.paint(plain=0.5, most=0.15)
    for _ in range(int(torch.randint(3, 10, (1,)))):
        one = f.moved(s.b.uniform(-1, 1), s.b.uniform(-0.7, 0.7), s.b.geometric(0.2, 0.45))
        s.canvas.new_thing()
        shape = blob(s.b, one, 0.2)
        s.canvas.shadow(
            torch.sigmoid(-one.px(blob(s.b, one.moved(0.2, 0.25), 0.1))), s.b.uniform(0, 0.4), 3.5
        )
        s.canvas.part(one.px(shape), s.like(paint, 0.05), s.round(one))


def hills(s: Studio, f: Frame) -> None:
    """Land, water or a wall's top from one side to the other: a ridge across the whole scene."""
    paint = s.leafy() if torch.rand(1) < 0.3 else s.paint(plain=0.4)
    line = 0.0 * f.u
    if torch.rand(1) < 0.75:
        for waves in (0.7, 1.3, 2.9, 6.1):
            line = line + 0.25 / waves * s.b.normal() * torch.sin(waves * f.u + s.b.uniform(0, 6.3))
    if torch.rand(1) < 0.4:
        line = line + 1.5 * s.ragged(f, 5)
    s.canvas.new_thing()
    s.canvas.part(f.px(line - f.v), paint, s.flat(f))


def woods(s: Studio, f: Frame) -> None:
    """Trunks behind trunks, each a little darker or lighter, on the ground they stand on."""
    b, c = s.b, s.canvas
    bark, floor = s.paint(plain=0.1, most=0.12, among=s.bank.hair), s.leafy()
    haze, far = b.uniform(-0.12, 0.2)[:, None], b.uniform(-0.5, 0.1)
    c.new_thing()
    edge = far + 0.04 * s.bank.picked(b, s.bank.leaves) - f.v
    with c.behind():
        c.part(f.px(edge), floor, s.flat(f))
        if torch.rand(1) < 0.5:
            _path(s, f, far)
    number = int(torch.randint(4, 15, (1,)))
    for trunk in range(number):
        near = trunk / number
        at, lean = b.uniform(-1.6, 1.6), 0.05 * b.normal()
        foot = far + (0.1 + 1.1 * near) * b.uniform(0.3, 1.0)
        wide = b.uniform(0.3, 1.0) * (0.02 + 0.1 * near**1.5)
        light = (bark.colour + haze * (1 - near)).clamp(0.01, 0.98)
        paint = replace(bark, colour=light, amount=bark.amount * (0.2 + 0.8 * near))
        root = wide * 0.25 * torch.exp((4 * (f.v - foot)).clamp(max=1))
        off = (f.u - at - lean * (f.v - foot)).abs()
        below = f.px(f.v - foot)
        fine = (f.px(wide) < _STROKE_PX).float()
        c.new_thing()
        line = torch.maximum(f.px(off), below + _STROKE_PX) + AWAY * (1 - fine)
        c.thread(line, f.px(wide).clamp(0.4, _STROKE_PX), paint)
        body = torch.maximum(f.px(off - wide - root), below) + AWAY * fine
        c.part(body, paint, s.limb(off - wide, wide))


def _path(s: Studio, f: Frame, far: Tensor) -> None:
    """A path or brook that winds to where the ground ends."""
    down = (f.v - far).clamp(0, 4)
    middle = s.b.uniform(-0.6, 0.6) + 0.4 * s.b.normal() * torch.sin(3 * down + s.b.uniform(0, 6))
    half = (0.03 + s.b.uniform(0.1, 0.5) * down) * s.b.uniform(0.3, 1)
    side = (f.u - middle).abs() - half + 0.5 * s.ragged(f)
    s.canvas.part(f.px(torch.maximum(side, far - f.v)), s.paint(plain=0.1), s.flat(f), worth=0.9)


def cast(s: Studio, f: Frame) -> None:
    """A shadow from somewhere else, soft or crisp, or a patch of light: no contour."""
    distance = blob(s.b, f) if torch.rand(1) < 0.5 else polygon(s.b, f)
    if torch.rand(1) < 0.3:
        distance = distance + 3 * s.ragged(f, 6)
    soft = float(2 + 9 * torch.rand(1)) if torch.rand(1) < 0.6 else float(0.4 + 1.2 * torch.rand(1))
    deep = s.b.uniform(0.05, 0.6) * (1 - 2 * s.b.chance(0.25))
    s.canvas.shadow(torch.sigmoid(-f.px(distance)), deep, soft)


#: What pictures are of, and how often; lines of things behind it count less.
MAIN: tuple[tuple[Callable[[Studio, Frame], None], float], ...] = (
    (head, 4.0),
    (eyes, 2.0),
    (animal, 2.0),
    (profile, 2.0),
    (flower, 2.5),
    (building, 2.5),
    (woods, 0.8),
    (hand, 1.0),
    (vessel, 0.7),
    (limbs, 0.5),
    (stones, 0.5),
    (letters, 0.5),
    (anything, 0.8),
)
#: What may be painted, how often, and from which to which size in pixels.
KINDS: tuple[tuple[Callable[[Studio, Frame], None], float, float, float], ...] = (
    (anything, 7.0, 8, 130),
    (thread, 2.2, 20, 140),
    (lattice, 0.8, 30, 140),
    (turned, 0.6, 12, 110),
    (cloth, 1.2, 30, 170),
    (head, 2.4, 14, 160),
    (eyes, 0.5, 5, 40),
    (animal, 1.0, 16, 110),
    (profile, 0.8, 16, 110),
    (hand, 0.9, 14, 90),
    (limbs, 1.0, 20, 110),
    (flower, 1.5, 14, 120),
    (vessel, 1.2, 16, 110),
    (building, 1.8, 25, 170),
    (tree, 1.2, 20, 120),
    (woods, 0.7, 50, 160),
    (letters, 1.0, 20, 130),
    (stones, 0.8, 20, 110),
    (hills, 0.8, 60, 200),
    (cast, 1.5, 20, 140),
)


def put(s: Studio, kind: int, share: float, *, main: bool = False) -> None:
    """Paint one thing of a kind anywhere; later ones are smaller.

    Args:
        s: The studio.
        kind: Index into `KINDS`.
        share: 0 for the first thing of a scene, 1 for the last.
        main: Whether it is what the picture is of: large, and in its midst.
    """
    draw, _, least, most = KINDS[kind]
    high = least + (most - least) * (1 - share) ** 1.2
    sizes = (0.45 * most, most) if main else (max(0.5 * high, least), high + 4)
    if main and torch.rand(1) < _CLOSE_UPS:
        sizes = (most, _CLOSEST * most)
    upright = torch.rand(1) < 0.7
    about = (0.25, 0.75) if main else (-0.1, 1.1)
    turn = 0.3 if upright else math.pi
    f = placed(s.b, s.b.geometric(*sizes), turn=turn, lean=0.25, about=about)
    if draw is not cast and torch.rand(1) < 0.3:
        moved = f.moved(s.b.uniform(-0.25, 0.25), s.b.uniform(-0.25, 0.25))
        soft = (
            float(1.5 + 8 * torch.rand(1)) if torch.rand(1) < 0.75 else float(0.5 + torch.rand(1))
        )
        s.canvas.shadow(torch.sigmoid(-moved.px(blob(s.b, moved, 0.3))), s.b.uniform(0, 0.55), soft)
    draw(s, f)
