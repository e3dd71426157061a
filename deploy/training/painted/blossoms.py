"""Blossoms near by: full ones of a hundred petals, and few petals that fill the picture.

Petals of one hue lie over each other, and what tells them apart is a soft step in their own
shade: light rims, dark bases. Ribs along a petal and the shadow of another upon it are no contours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import torch
from canvas import Paint
from fields import Frame, ellipse
from studio import Studio
from torch import Tensor

#: Petals of less than this half width are texture.
_PETAL_PX = 3.5
#: Numbers that petals of one ring differ by.
_DIFFER = 64


@dataclass(frozen=True)
class _Bloom:
    """How the petals of a full blossom are alike.

    Attributes:
        heart, rim: Colours of the innermost and the outermost.
        base: How dark a petal is where it comes out from under another.
        edge, edge_wide: How much lighter its rim is, and over which share of its width.
        groove: How dark the line along its middle is.
        point: How pointed it is.
        frill: How wavy its edge is.
    """

    heart: Paint
    rim: Tensor
    base: Tensor
    edge: Tensor
    edge_wide: Tensor
    groove: Tensor
    point: Tensor
    frill: Tensor
    shadow: Tensor


def full_blossom(s: Studio, f: Frame) -> None:
    """A dahlia, marigold, chrysanthemum or rose hip of petals in rings, from outside inwards."""
    b, c = s.b, s.canvas
    heart = replace(s.paint(plain=0.5, most=0.04), colour=_hue(s))
    tone = 1 + 0.25 * b.normal()[:, None] + 0.12 * b.normal(3)
    bloom = _Bloom(
        heart=heart,
        rim=(heart.colour * tone + b.uniform(-0.05, 0.2)[:, None]).clamp(0.03, 0.98),
        base=b.uniform(0.1, 0.6),
        edge=b.uniform(0.0, 0.35),
        edge_wide=b.uniform(0.1, 0.35),
        groove=b.uniform(0.0, 0.25) * b.chance(0.5),
        point=b.uniform(-0.3, 0.7),
        frill=b.uniform(0.0, 0.06) * b.chance(0.3),
        shadow=b.uniform(0.1, 0.5),
    )
    tilt, rings = b.uniform(0.6, 1.0), int(torch.randint(4, 10, (1,)))
    count = 2 * torch.randint(4, 13, (b.scenes, 1, 1), device=b.device)
    dome = b.uniform(0.0, 0.35) * (1 - tilt)
    power = b.uniform(0.8, 1.6)
    c.new_thing()
    # What is seen between petals, and behind those that are too small, is of the blossom too.
    within = f.px(ellipse(f, 0, -0.5 * dome, 0.6, 0.6 * tilt))
    c.part(within, heart, (1 - bloom.base) + 0 * f.u)
    for ring in range(rings):
        share = ring / rings
        tip = 1 - 0.93 * share**power
        g = Frame(f.u, (f.v + dome * share) / tilt, f.unit_px)
        for half in (0, 1):
            _ring(s, g, bloom, count, (tip, share, 0.5 * half + 0.37 * ring))
    _middle(s, f, bloom, dome)


def _hue(s: Studio) -> Tensor:
    """Of any strong colour, or pale."""
    b = s.b
    colour = b.uniform(0.05, 0.98, 3)
    pale = b.uniform(0.6, 0.95, 1)[:, None] + 0.08 * b.normal(3)
    warm = torch.cat(
        [b.uniform(0.7, 1, 3)[:, :1], b.uniform(0.25, 0.8, 3)[:, :1], b.uniform(0, 0.4, 3)[:, :1]],
        1,
    )
    colour = torch.where(b.chance(0.25)[:, None] > 0, pale, colour)
    return torch.where(b.chance(0.5)[:, None] > 0, warm, colour).clamp(0.03, 0.98)


def _ring(
    s: Studio,
    f: Frame,
    bloom: _Bloom,
    count: Tensor,
    at: tuple[Tensor, float, float],
) -> None:
    """Every second petal of a ring.

    Args:
        s: The studio.
        f: The blossom's.
        bloom: What petals are like.
        count: Petals in the ring, even.
        at: How far from the middle their tips are, where between outside (0) and inside (1) the
            ring is, and by how many petals it is turned.
    """
    b, c = s.b, s.canvas
    tip, share, turned = at
    pitch = 4 * math.pi / count
    angle = torch.atan2(f.v, f.u) + turned * 2 * math.pi / count
    which = torch.floor(angle / pitch + 0.5).remainder(count / 2)
    differ = [_of_each(s, which) for _ in range(4)]
    local = angle - pitch * torch.floor(angle / pitch + 0.5) + 0.06 * pitch * differ[0]
    radius = torch.sqrt(f.u**2 + f.v**2 + 1e-6)
    u, v = radius * torch.cos(local), radius * torch.sin(local)
    tip = tip * (1 + 0.04 * differ[1])
    # The inner ones are shorter; each is as wide as its place and a little more.
    long = 0.5 * (0.12 + 0.4 * tip)
    half = (math.pi * (tip - 0.6 * long) / count * b.uniform(1.05, 1.5)).clamp(min=0.012)
    p = Frame(u - tip + long, v, f.unit_px)
    along = (p.u / long).clamp(-1, 1)
    slim = v * (1 + bloom.point * 0.5 * (along + 0.2)) / (1 + 0.1 * differ[2])
    shape = ellipse(Frame(p.u, slim, f.unit_px), 0, 0, long, half)
    shape = shape + bloom.frill * half * torch.sin(9 * local / pitch * 6.28 + 3 * differ[3])
    across = (v / half).clamp(-1, 1)
    light = 1 - bloom.base * (0.5 - 0.5 * along) ** 1.2 + 0.06 * differ[3]
    rim = torch.exp(-((shape / (bloom.edge_wide * half)) ** 2))
    light = light + bloom.edge * rim * (0.6 + 0.4 * along)
    light = light - bloom.groove * torch.exp(-((across / 0.15) ** 2))
    light = light + across * b.uniform(-0.2, 0.2) + 0.08 * (f.u * s.sun[0] + f.v * s.sun[1])
    under = torch.sigmoid(-f.px(shape - 0.25 * half) / f.px(0.2 * half).clamp(min=0.8))
    c.shade(1 - bloom.shadow * under)
    colour = torch.lerp(bloom.rim, bloom.heart.colour, min(1.0, share * 1.2))
    paint = replace(bloom.heart, colour=colour)
    drawn = (f.px(half) > _PETAL_PX).float()
    c.part(f.px(shape), paint, light.clamp(0.2, 1.5), drawn=drawn, each=which)


def _of_each(s: Studio, which: Tensor) -> Tensor:
    """A normal number for each of alike parts, where they are."""
    table = torch.randn(s.b.scenes, _DIFFER, device=s.b.device)
    return table.gather(1, which.long().flatten(1)).view_as(which)


def _middle(s: Studio, f: Frame, bloom: _Bloom, dome: Tensor) -> None:
    """What is too small to be drawn: texture, at times with an edge."""
    b = s.b
    heart = f.moved(0, -dome, b.uniform(0.05, 0.16))
    fine = replace(bloom.heart, grain=s.bank.picked(b, s.bank.leaves), amount=b.uniform(0.05, 0.25))
    shape = torch.sqrt(heart.u**2 + heart.v**2) - 1
    s.canvas.part(heart.px(shape), fine, s.round(heart), worth=0.4)


def petals(s: Studio, f: Frame) -> None:
    """Few large petals around a heart, so close that they fill the picture."""
    b, c = s.b, s.canvas
    paint = replace(s.paint(plain=0.3, most=0.03), colour=_hue(s))
    count, spread = int(torch.randint(7, 19, (1,))), b.uniform(0, 6.28)
    ribs, wide = b.uniform(0, 0.35), b.uniform(0.16, 0.42)
    soft = b.geometric(0.6, 2.5)
    c.new_thing()
    for number in torch.randperm(count).tolist():
        angle = spread + 2 * math.pi * number / count + 0.16 * b.normal()
        long = 1 + 0.15 * b.normal().clamp(-2, 2)
        _long_petal(s, _turned(f, angle), paint, (long, wide * b.uniform(0.7, 1.2), ribs, soft))
    heart = f.moved(0, 0, b.uniform(0.12, 0.3))
    c.shade(1 - b.uniform(0, 0.5) * torch.sigmoid(-heart.px(heart.u.hypot(heart.v) - 1.15) / 3))
    stamens = s.paint(plain=0.0, most=0.35, among=s.bank.leaves)
    edge = heart.px(torch.sqrt(heart.u**2 + heart.v**2) - 1)
    ragged = heart.px(b.uniform(0.0, 0.12)) * s.bank.picked(b, s.bank.leaves)
    stamens = replace(stamens, amount=b.uniform(0.1, 0.35))
    cover = torch.sigmoid((ragged - edge) / 0.7)
    c.part(edge, stamens, s.round(heart), worth=0.9, cover=cover)


def _turned(f: Frame, angle: Tensor) -> Frame:
    cos, sin = torch.cos(angle), torch.sin(angle)
    return Frame(f.u * cos + f.v * sin, f.v * cos - f.u * sin, f.unit_px)


def _long_petal(
    s: Studio, f: Frame, paint: Paint, kind: tuple[Tensor, Tensor, Tensor, Tensor]
) -> None:
    """One petal along `u`: bent, ribbed, shaded, at times with a rim that is turned over."""
    b, c = s.b, s.canvas
    long, wide, ribs, soft = kind
    bend, point = 0.2 * b.normal(), b.uniform(0.2, 1.0)
    p = Frame(f.u, f.v - bend * f.u * f.u, f.unit_px)
    share = (p.u / long).clamp(1e-3, 1)
    half = (
        wide
        * long
        * (share ** b.uniform(0.4, 0.9))
        * (1 - share ** (1.5 + 3 * point)).clamp(min=1e-4) ** 0.6
    )
    half = half * 1.2 + 0.01
    slope = 1 / (1 + (0.8 * wide) ** 2) ** 0.5
    wavy = 0.08 * half * torch.sin(7 * p.u + b.uniform(0, 6.28))
    shape = torch.maximum((p.v.abs() - half + wavy) * slope, torch.maximum(-p.u, p.u - long))
    px = f.px(shape)
    # The shadow of this one on those below: crisp, and no contour of its own.
    aside = (p.v - 0.3 * wide * b.normal()).abs() - half
    cast = f.px(torch.maximum(aside, torch.maximum(-p.u, p.u - long)))
    crisp = float(0.5 + 3 * torch.rand(1) ** 2)
    c.shadow(torch.sigmoid(-cast / 0.6), b.uniform(0.0, 0.4) * b.chance(0.6), crisp)
    across = (p.v / (half + 1e-3)).clamp(-1.2, 1.2)
    rib = torch.cos(across * b.uniform(5, 14) + 0.8 * s.bank.picked(b, s.bank.hair, (0.1, 0.3)))
    cup = b.uniform(-0.35, 0.35)
    light = 1 - b.uniform(0, 0.5) * (1 - share) ** 2 + cup * across + ribs * 0.5 * rib
    light = light + b.uniform(-0.2, 0.25) * across * across + 0.12 * b.normal()
    cover = torch.sigmoid(-px / soft)
    c.part(px, s.like(paint, 0.02), light.clamp(0.15, 1.6), cover=cover)
    if torch.rand(1) < 0.3:
        side = b.sign()
        at = half * b.uniform(0.3, 0.85)
        fold = torch.maximum(
            shape, at - p.v * side + 0.15 * long * (share - b.uniform(0.4, 0.8)) ** 2
        )
        c.part(
            f.px(fold),
            s.like(paint, 0.04),
            (light + b.uniform(-0.3, 0.35)).clamp(0.15, 1.6),
            worth=0.9,
        )
