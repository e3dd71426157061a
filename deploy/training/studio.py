"""What things are painted with: paints, lights, ragged edges and folds."""

from __future__ import annotations

from dataclasses import dataclass, replace

import torch
from canvas import Canvas, Kind, Paint
from fields import Batch, Frame, Points, curve
from textures import Bank
from torch import Tensor

#: Colours of hair.
_HAIR = (
    (0.03, 0.03, 0.03),
    (0.08, 0.06, 0.05),
    (0.2, 0.12, 0.08),
    (0.36, 0.23, 0.13),
    (0.45, 0.22, 0.1),
    (0.75, 0.58, 0.36),
    (0.5, 0.49, 0.48),
    (0.88, 0.87, 0.85),
)


@dataclass(frozen=True)
class Studio:
    """What things are painted with: the batch, the canvas, textures, and the scenes' mood.

    Attributes:
        mood: (scenes, 3, 1, 1): the colour that all others gather around.
        sun: Where light comes from, (scenes, 1, 1) each, across and down.
    """

    b: Batch
    canvas: Canvas
    bank: Bank
    mood: Tensor
    sun: tuple[Tensor, Tensor]

    def paint(
        self, *, plain: float = 0.35, most: float = 0.28, among: Tensor | None = None
    ) -> Paint:
        """A colour with a texture; a share of `plain` is without."""
        b = self.b
        # In a dark scene things differ less.
        spread = (self.mood.mean(1, keepdim=True) / 0.3).clamp(0.2, 1)
        colour = self.mood + spread * (0.28 * b.normal()[:, None] + 0.13 * b.normal(3))
        vivid = b.uniform(-0.4, 1.1, 3) * (0.4 + 0.6 * spread)
        colour = torch.where(b.chance(0.12)[:, None] > 0, vivid, colour)
        amount = b.geometric(0.015, most) * (1 - b.chance(plain))
        tint = 1 + 0.35 * b.normal(3)
        return Paint(colour.clamp(0.02, 0.98), self.bank.picked(b, among), amount, tint)

    def like(self, paint: Paint, by: float = 0.0) -> Paint:
        """The same paint again, its colour changed by about `by`."""
        colour = (paint.colour + by * self.b.normal()[:, None]).clamp(0.02, 0.98)
        return replace(paint, colour=colour)

    def dark(self, high: float = 0.2) -> Paint:
        """A dark paint with little texture."""
        return replace(self.paint(plain=0.9, most=0.03), colour=self.b.uniform(0.01, high, 3))

    def bright(self) -> Paint:
        """A light one."""
        return replace(self.paint(plain=0.9, most=0.03), colour=self.b.uniform(0.65, 0.98, 3))

    def skin(self) -> Paint:
        """Skin of any shade."""
        tone = self.b.uniform(0, 1)[:, None]
        light = torch.tensor([0.93, 0.76, 0.66], device=self.b.device).view(1, 3, 1, 1)
        deep = torch.tensor([0.22, 0.13, 0.09], device=self.b.device).view(1, 3, 1, 1)
        colour = deep + (light - deep) * tone + 0.03 * self.b.normal(3)
        colour = colour.clamp(0.03, 0.97)
        return replace(self.paint(plain=0.5, most=0.03), colour=colour, kind=Kind.SKIN)

    def hairy(self, most: float = 0.3) -> Paint:
        """Hair or fur: black, brown, red, blond, grey, white, at times of any colour."""
        b = self.b
        shades = torch.tensor(_HAIR, device=b.device)
        one, two = (shades[torch.randint(len(_HAIR), (b.scenes,), device=b.device)] for _ in "12")
        grown = torch.lerp(one, two, b.uniform(0, 0.5).flatten()[:, None])[:, :, None, None]
        paint = self.paint(plain=0.05, most=most, among=self.bank.hair)
        colour = torch.where(b.chance(0.75)[:, None] > 0, grown, paint.colour)
        return replace(paint, colour=colour, kind=Kind.HAIR)

    def leafy(self) -> Paint:
        """Foliage or grass."""
        paint = self.paint(plain=0.0, most=0.35, among=self.bank.leaves)
        return replace(paint, kind=Kind.LEAVES)

    def round(self, f: Frame, wide: Tensor | float = 1.0, high: Tensor | float = 1.0) -> Tensor:
        """Light on a round form."""
        u, v = f.u / wide, f.v / high
        depth = torch.sqrt((1 - u * u - v * v).clamp(0.02, 1))
        strength = self.b.uniform(0, 0.75)
        lambert = u * self.sun[0] + v * self.sun[1] + 0.8 * depth
        return (1 - strength + strength * 1.1 * lambert).clamp(0.12, 1.7)

    def limb(self, distance: Tensor, radius: Tensor | float) -> Tensor:
        """Light on a limb, darker towards its edges."""
        inside = (1 + distance / radius).clamp(0, 1)
        return 1 - self.b.uniform(0, 0.6) * inside**2

    def flat(self, f: Frame) -> Tensor:
        """Light that changes evenly over a flat thing."""
        return (1 + 0.25 * (f.u * self.b.normal() + f.v * self.b.normal())).clamp(0.2, 1.7)

    def furry(
        self,
        f: Frame,
        distance: Tensor,
        ragged: Tensor,
        paint: Paint,
        light: Tensor,
        *,
        worth: float = 1.0,
    ) -> None:
        """Paint a part with hairs across its outline; its line is the fair one between them."""
        cover = torch.sigmoid(-f.px(distance + ragged) / 0.6)
        self.canvas.part(f.px(distance), paint, light, worth=worth, cover=cover)

    def ragged(self, f: Frame, most_px: float = 4.0) -> Tensor:
        """What makes an outline of hair or leaves ragged, in the frame's unit."""
        high_px = self.b.geometric(0.4, most_px) * self.b.chance(0.8)
        return high_px * self.bank.picked(self.b, self.bank.hair) / f.unit_px


def folds(s: Studio, f: Frame, count: int, within: Tensor | None = None) -> None:
    """Creases that run any way over a thing."""
    for _ in range(count):
        points = tuple((s.b.uniform(-1, 1), s.b.uniform(-1, 1)) for _ in range(3))
        crease(s, f, points, deep=0.55, within=within)


def crease(
    s: Studio,
    f: Frame,
    points: Points,
    *,
    deep: float,
    within: Tensor | None = None,
    drawn: Tensor | None = None,
) -> None:
    """A fold along a curve, crisp or soft."""
    off, along, side = curve(f, points)
    fade = (4 * along * (1 - along)).clamp(0, 1) ** 0.7
    strength = -s.b.uniform(-0.15 * deep, deep) * fade
    if within is not None:
        strength = strength * (within < 0)
    wide, soft = f.px(s.b.geometric(0.03, 0.35)), s.b.geometric(0.6, 2.5)
    s.canvas.crease(f.px(off), side, strength, wide, soft_px=soft, drawn=drawn)
