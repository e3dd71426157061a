"""Coats: fur that flows over a form, with hairs across its outline.

Hairs stand out from a form in all lengths and light comes through them, so that its edge in a
picture is a fringe many pixels wide. What is drawn is the fair contour of the form within.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import torch
import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from canvas import Paint
from fields import blurred
from studio import Studio
from torch import Tensor

#: Places along a hair at which it is looked at.
_ALONG = 9


@dataclass(frozen=True)
class Coat:
    """What a form is clad in.

    Attributes:
        paint: Its fur.
        long_px, wide_px: Length and width of a tuft.
        fringe_px: How far hairs stand out; (scenes, 1, 1).
        rim: How much lighter (or darker) the fringe is.
    """

    paint: Paint
    long_px: Tensor
    wide_px: float
    fringe_px: Tensor
    rim: Tensor


def coat_of(s: Studio, unit_px: Tensor, *, most: float = 0.22) -> Coat:
    """A coat of an animal whose head is half as large as `unit_px`."""
    b = s.b
    size = (unit_px / 80).clamp(0.3, 2.5)
    paint = s.hairy(most)
    # Much of what lives in woods and rooms is of their tone.
    around = s.canvas.plain.mean((2, 3), keepdim=True)
    share = (b.uniform(0.2, 0.85) * b.chance(0.4))[:, None]
    return Coat(
        paint=replace(
            paint, colour=torch.lerp(paint.colour, around, share), amount=b.geometric(0.03, 0.12)
        ),
        long_px=b.geometric(5, 22) * size.sqrt(),
        wide_px=float(0.5 + 0.9 * torch.rand(1)),
        fringe_px=(b.geometric(0.7, 7.0) * size.sqrt()).clamp(0.5, 12),
        rim=b.uniform(-0.35, 0.5) * b.chance(0.7),
    )


def way(field: Tensor) -> tuple[Tensor, Tensor]:
    """Which way a field grows: across and down, of unit length."""
    soft = F.avg_pool2d(field[:, None], 5, 1, 2, count_include_pad=False)[:, 0]
    across, down = torch.gradient(soft, dim=(2, 1))
    long = torch.sqrt(across * across + down * down + 1e-8)
    return across / long, down / long


def strands(s: Studio, flow: tuple[Tensor, Tensor], long_px: Tensor, wide_px: float) -> Tensor:
    """Hairs that run along a flow (across, down), zero mean and unit deviation.

    Noise is drawn out along the flow (Cabral and Leedom, "Imaging vector fields using line
    integral convolution", SIGGRAPH 1993; here along its tangent).
    """
    b = s.b
    noise = torch.randn(b.scenes, 1, b.side_px, b.side_px, device=b.device)
    noise = blurred(noise, wide_px)
    bend = 0.5 * s.bank.picked(b, s.bank.hair, (0.1, 0.25))
    across, down = flow[0] - bend * flow[1], flow[1] + bend * flow[0]
    x, y = b.pixels()
    total = torch.zeros_like(across)
    for step in range(_ALONG):
        off = long_px * (step / (_ALONG - 1) - 0.5)
        places = torch.stack([x + off * across, y + off * down], -1) * (2 / b.side_px) - 1
        total = (
            total
            + F.grid_sample(noise, places, padding_mode="reflection", align_corners=False)[:, 0]
        )
    total = total - total.mean((1, 2), keepdim=True)
    return total / (total.std((1, 2), keepdim=True) + 1e-5)


def clad(
    s: Studio,
    distance_px: Tensor,
    coat: Coat,
    flow: tuple[Tensor, Tensor],
    light: Tensor,
    *,
    worth: float = 1.0,
    fringe: float = 1.0,
) -> None:
    """Paint a form with a coat.

    Args:
        s: The studio.
        distance_px: Negative inside the form.
        coat: What it is clad in.
        flow: Which way its hairs lie.
        light: On it.
        worth: As of parts.
        fringe: How much longer hairs stand out here.
    """
    hair = strands(s, flow, coat.long_px, coat.wide_px)
    out = fringe * coat.fringe_px
    tips = out * (0.55 * hair + 0.7 * (hair - 1.0).clamp(min=0))
    cover = torch.sigmoid((tips - distance_px) / (0.5 + 0.22 * out))
    edge = torch.exp(-((distance_px / (1.5 * out + 1)) ** 2))
    paint = replace(coat.paint, grain=hair)
    lit = (light * (1 + coat.rim * edge)).clamp(0.05, 2)
    s.canvas.part(distance_px, paint, lit, worth=worth, cover=cover)


def joined(first: Tensor, second: Tensor, over: Tensor | float) -> Tensor:
    """The distance to two forms that melt into one another over some width (smooth minimum)."""
    share = (0.5 + 0.5 * (second - first) / over).clamp(0, 1)
    return torch.lerp(second, first, share) - over * share * (1 - share)


def blotches(s: Studio, within: Tensor, deep: float) -> None:
    """Patches of another shade in a coat, whose edges are those of hair: no contours."""
    b = s.b
    patches = blurred(
        torch.randn(b.scenes, 1, b.side_px // 8, b.side_px // 8, device=b.device), 1.5
    )
    patches = F.interpolate(patches, size=(b.side_px, b.side_px), mode="bicubic")[:, 0]
    patches = patches / patches.std((1, 2), keepdim=True)
    patches = patches + 0.25 * s.bank.picked(b, s.bank.hair)
    dark = torch.sigmoid((patches - b.uniform(0.2, 1.0)) * b.geometric(2, 8))
    s.canvas.shade((1 - b.uniform(-0.5 * deep, deep) * dark * within).clamp(0.2, 1.8))
