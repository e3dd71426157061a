"""Leaves behind what a picture is of: large ones out of focus, or a thicket of small ones."""

from __future__ import annotations

import math
from dataclasses import replace

import torch
from canvas import Kind
from fields import Frame, ellipse
from studio import Studio, crease


def leaves(s: Studio, number: int) -> None:
    """Leaves of any size and place, of hues that lie close together."""
    b = s.b
    green = replace(s.paint(plain=0.4, most=0.08), colour=_leaf_green(s), kind=Kind.LEAVES)
    x, y = b.pixels()
    for _ in range(number):
        s.canvas.new_thing()
        unit = b.geometric(25, 150)
        angle = b.uniform(-math.pi, math.pi)
        across, down = x - b.uniform(0, b.side_px), y - b.uniform(0, b.side_px)
        f = Frame(
            (across * torch.cos(angle) + down * torch.sin(angle)) / unit,
            (-across * torch.sin(angle) + down * torch.cos(angle)) / unit,
            unit,
        )
        half = b.uniform(0.3, 0.6)
        blade = torch.maximum(
            ellipse(f, 0, 0.6 * half, 1.1, 1.6 * half), ellipse(f, 0, -0.6 * half, 1.1, 1.6 * half)
        )
        light = b.geometric(0.35, 2.0) * (1 + 0.3 * f.u * b.normal() + 0.15 * torch.sign(f.v))
        s.canvas.part(f.px(blade), s.like(green, 0.06), light.clamp(0.1, 2.2))
        if torch.rand(1) < 0.4:
            crease(s, f, ((-1.0, 0.0), (0.0, 0.05), (1.0, 0.0)), deep=0.4, within=blade)


def _leaf_green(s: Studio) -> torch.Tensor:
    """Green, olive, yellow or the colours of autumn."""
    b = s.b
    hue = torch.tensor([0.35, 0.55, 0.15], device=b.device).view(1, 3, 1, 1)
    warm = torch.tensor([0.55, 0.38, 0.15], device=b.device).view(1, 3, 1, 1)
    mixed = torch.lerp(hue, warm, (b.uniform(0, 1) ** 2)[:, None])
    return (mixed * b.uniform(0.4, 1.4)[:, None] + 0.05 * b.normal(3)).clamp(0.03, 0.95)
