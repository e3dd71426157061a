"""Woods seen from within: trunks down to the ground, before foliage that is all texture.

A trunk is two long sides and little else. Far stems, twigs, leaves and gaps of sky among them are
as busy as they are in a wood, and are no contours; nor are patches of light on the ground.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import torch
from canvas import Paint
from fields import AWAY, Frame, blurred, curve
from studio import Studio
from torch import Tensor

from painted.coats import strands

#: Trunks of less than this half width are one line.
_TRUNK_PX = 1.6
#: A trunk differs from what is behind it at least by so much.
_APART = 0.09


@dataclass(frozen=True)
class _Wood:
    """What is alike in one wood.

    Attributes:
        far: Where the ground ends, in the frame.
        behind: How light the thicket is, (scenes, 1, 1, 1).
        bark: What near trunks are painted with; its grain runs up and down.
        haze: How much lighter things are far off.
        moss: How ragged a foot is where it comes out of the ground.
    """

    far: Tensor
    behind: Tensor
    bark: Paint
    haze: Tensor
    moss: Tensor


def forest(s: Studio, f: Frame) -> None:
    """A wood that fills the picture, with its ground, at times with a path."""
    b, c = s.b, s.canvas
    f = Frame(f.u, f.v + 0.02 * f.u * f.u, f.unit_px)
    green, dark = s.leafy(), b.geometric(0.35, 1.3)[:, None]
    backdrop = _thicket(s, f, replace(green, colour=_tone(s) * dark))
    c.new_thing()
    one = torch.ones_like(f.u + f.v)
    with c.behind():
        c.part(-AWAY * one, backdrop, one)
    if torch.rand(1) < 0.5:
        c.defocus(float(0.5 + 2 * torch.rand(1)))
    far = b.uniform(-0.5, 0.5)
    wood = _Wood(
        far=far,
        behind=c.plain.mean((1, 2, 3)).view(-1, 1, 1, 1),
        bark=_bark(s, f, dark),
        haze=b.uniform(-0.05, 0.25),
        moss=s.bank.picked(b, s.bank.leaves, (0.5, 1.0)),
    )
    with c.behind():
        _floor(s, f, wood, _tone(s) * (dark * b.uniform(0.7, 2.0)[:, None]))
    number = int(torch.randint(4, 15, (1,)))
    for trunk in range(number):
        if torch.rand(1) < 0.15:
            with c.behind():
                _bush(s, f, wood, backdrop)
        _trunk(s, f, wood, (trunk + 0.5) / number)


def _tone(s: Studio) -> Tensor:
    """Green, brown, the blue of far woods, autumn; (scenes, 3, 1, 1)."""
    b = s.b
    tones = torch.tensor(
        [[0.2, 0.4, 0.15], [0.35, 0.28, 0.18], [0.3, 0.4, 0.4], [0.6, 0.4, 0.15], [0.4, 0.5, 0.2]],
        device=b.device,
    )
    picked = tones[torch.randint(len(tones), (b.scenes,), device=b.device)][:, :, None, None]
    return (picked + 0.05 * b.normal(3)).clamp(0.03, 0.9)


def _thicket(s: Studio, f: Frame, paint: Paint) -> Paint:
    """What is behind all trunks: leaves, stems too many to be drawn, and the sky between them."""
    b = s.b
    wave = torch.randn(b.scenes, 1, 1, b.side_px, device=b.device)
    stems = blurred(wave, float(0.8 + 2 * torch.rand(1)))[:, 0]
    stems = stems / stems.std((1, 2), keepdim=True)
    leaning = stems + 0 * f.v
    gaps = blurred(torch.randn(b.scenes, 1, b.side_px, b.side_px, device=b.device), 3.0)[:, 0]
    gaps = gaps / gaps.std((1, 2), keepdim=True) + 0.7 * paint.grain
    sky = torch.sigmoid(3 * (gaps - b.uniform(0.5, 2.0) - 1.2 * (f.v + 0.4)))
    grain = paint.grain - b.uniform(0, 1.2) * leaning.clamp(min=0)
    grain = grain + b.uniform(2, 6) * sky * (1 - 0.7 * (leaning > 0.3))
    return replace(paint, grain=grain, amount=b.geometric(0.03, 0.2))


def _bark(s: Studio, f: Frame, dark: Tensor) -> Paint:
    b = s.b
    one = torch.ones_like(f.u + f.v)
    grain = strands(s, (0 * one, one), b.geometric(5, 30), float(0.6 + torch.rand(1)))
    tone = torch.tensor([0.42, 0.36, 0.3], device=b.device).view(1, 3, 1, 1)
    colour = tone * dark * b.geometric(0.4, 2.0)[:, None] + 0.03 * b.normal(3)
    paint = s.paint(plain=0.0, most=0.15)
    blotches = 0.6 * s.bank.picked(b, None, (0.3, 0.8))
    return replace(paint, colour=colour.clamp(0.02, 0.9), grain=grain + blotches)


def _floor(s: Studio, f: Frame, wood: _Wood, colour: Tensor) -> None:
    """Moss, leaves or grass, whose end is lost among trunks; patches of light; a path."""
    b, c = s.b, s.canvas
    edge = f.px(wood.far - f.v + 0.04 * torch.sin(3 * f.u + b.uniform(0, 6.28)))
    ragged = b.uniform(1, 6) * wood.moss
    floor = replace(s.leafy(), colour=colour.clamp(0.03, 0.9), amount=b.geometric(0.03, 0.2))
    cover = torch.sigmoid((ragged - edge) / b.uniform(1, 5))
    near = (f.v - wood.far).clamp(0, 2)
    c.part(edge, floor, (0.8 + 0.25 * b.normal() * near).clamp(0.3, 1.6), worth=0.5, cover=cover)
    patches = blurred(torch.randn(b.scenes, 1, b.side_px, b.side_px, device=b.device), 6.0)[:, 0]
    patches = patches / patches.std((1, 2), keepdim=True) + 0.4 * wood.moss
    lit = torch.sigmoid(2 * (patches - b.uniform(0, 1.5))) * torch.sigmoid(-edge / 3)
    c.shade(1 + b.uniform(-0.4, 1.0) * lit)
    if torch.rand(1) < 0.6:
        _path(s, f, wood, colour)


def _path(s: Studio, f: Frame, wood: _Wood, ground: Tensor) -> None:
    """A path that winds away: its sides are drawn, though leaves and grass hang over them."""
    b = s.b
    down = (f.v - wood.far).clamp(0, 4)
    middle = b.uniform(-0.6, 0.6) + 0.35 * b.normal() * torch.sin(
        b.uniform(1.5, 4) * torch.sqrt(down + 0.02) + b.uniform(0, 6.28)
    )
    half = 0.012 + b.uniform(0.06, 0.45) * down
    px = f.px(torch.maximum((f.u - middle).abs() - half, wood.far - f.v))
    out = b.uniform(0.5, 5) * (0.3 + down)
    cover = torch.sigmoid((out * wood.moss - px) / (0.8 + b.uniform(0, 1.5) * out))
    tone = torch.tensor([0.6, 0.42, 0.25], device=b.device).view(1, 3, 1, 1)
    level = ground.mean(1, keepdim=True) * b.geometric(1.2, 4.0)[:, None]
    paint = replace(
        s.paint(plain=0.0, most=0.2, among=s.bank.leaves),
        colour=(tone * level / 0.42).clamp(0.03, 0.95),
    )
    s.canvas.part(px, paint, s.flat(f), cover=cover)


def _trunk(s: Studio, f: Frame, wood: _Wood, near: float) -> None:
    """Two sides from above the picture to a foot that widens and is lost in what grows there."""
    b, c = s.b, s.canvas
    at, lean = b.uniform(-1.8, 1.8), 0.03 * b.normal()
    foot = wood.far + (0.05 + 0.9 * near**1.5) * b.uniform(0.4, 1.0)
    wide = b.uniform(0.35, 1.0) * (0.02 + 0.13 * near**1.3)
    up = foot - f.v
    taper = (1 - 0.08 * up.clamp(min=0)).clamp(0.5, 1)
    root = 0.5 * wide * torch.exp(-(up.clamp(min=0) / (1.2 * wide)))
    lumps = 0.05 * wide * torch.sin(up / wide * b.uniform(0.3, 1.5) + b.uniform(0, 6.28))
    middle = f.u - at - lean * up - 0.02 * torch.sin(2 * up + b.uniform(0, 6.28))
    half = wide * taper + root + lumps
    off = middle.abs() - half
    px, below = f.px(off), f.px(-up)
    fine = (f.px(wide) < _TRUNK_PX).float()
    light = wood.bark.colour * b.geometric(0.7, 1.4)[:, None] + (wood.haze * (1 - near))[:, None]
    # Some light or shade there is between a trunk and what is behind it.
    apart = (light - wood.behind).mean(1, keepdim=True)
    apart = torch.sign(apart + 1e-6) * (_APART * (0.4 + wood.behind) - apart.abs()).clamp(min=0)
    light = light + apart
    paint = replace(
        wood.bark, colour=light.clamp(0.01, 0.95), amount=wood.bark.amount * (0.3 + 0.7 * near)
    )
    c.new_thing()
    line = torch.maximum(f.px(middle.abs()), below + _TRUNK_PX) + AWAY * (1 - fine)
    c.thread(line, f.px(wide).clamp(0.4, _TRUNK_PX), paint)
    across = (middle / half).clamp(-1, 1)
    shade = 1 - b.uniform(0, 0.5) * across**2 + b.uniform(-0.4, 0.4) * across
    rim = b.uniform(0, 0.6) * b.chance(0.3) * torch.exp(-(((1 - across * b.sign()) / 0.25) ** 2))
    moss = f.px(0.3 * wide) * b.uniform(0.2, 1.0)
    end = torch.sigmoid((moss * wood.moss - below) / (0.6 + 0.6 * moss))
    soft = 0.6 + 0.25 * px.abs().clamp(max=1) + b.uniform(0, 0.8)
    cover = torch.sigmoid((0.5 * wood.bark.grain - px) / soft) * end * (1 - fine)
    c.part(
        torch.maximum(px, below) + AWAY * fine, paint, (shade + rim).clamp(0.15, 1.8), cover=cover
    )
    if torch.rand(1) < 0.5:
        _twigs(s, f, paint, (at, foot, wide))


def _twigs(s: Studio, f: Frame, paint: Paint, trunk: tuple[Tensor, Tensor, Tensor]) -> None:
    """Dead branches, too thin and too many to be drawn."""
    b = s.b
    at, foot, wide = trunk
    for _ in range(2):
        high, out, sink = b.uniform(0.3, 1.6), b.sign() * b.uniform(0.1, 0.6), b.uniform(-0.15, 0.2)
        points = (
            (at, foot - high),
            (at + 0.5 * out, foot - high + 0.2 * sink),
            (at + out, foot - high + sink),
        )
        off, along, _ = curve(f, points)
        half = f.px(0.12 * wide).clamp(0.3, 1.2) * (1.1 - along)
        s.canvas.thread(f.px(off), half, paint, drawn=0 * f.unit_px)


def _bush(s: Studio, f: Frame, wood: _Wood, leaf: Paint) -> None:
    """Leaves among trunks, whose edge is as loose as they are: texture."""
    b = s.b
    g = f.moved(b.uniform(-1.5, 1.5), wood.far + b.uniform(-0.1, 0.6), b.geometric(0.12, 0.5))
    edge = g.px(torch.sqrt((g.u * 0.7) ** 2 + g.v**2 + 1e-4) - 1)
    ragged = b.uniform(3, 12) * s.bank.picked(b, s.bank.leaves)
    cover = torch.sigmoid((ragged - edge) / 1.2)
    tone = leaf.colour * b.geometric(0.6, 1.8)[:, None]
    paint = replace(s.like(leaf, 0.03), colour=tone.clamp(0.02, 0.95))
    s.canvas.part(edge, paint, s.flat(g), cover=cover, drawn=0 * f.unit_px)
