"""Light on what is seen: sun, sky, what shines, and how much of it a camera lets in."""

from __future__ import annotations

from dataclasses import dataclass

import torch
from fields import Batch
from studio import Studio
from torch import Tensor

from solids.paints import Paints, textured
from solids.view import Seen


@dataclass(frozen=True)
class Light:
    """What lights a scene; (scenes, …).

    Attributes:
        to: Towards the sun, a window or a lamp.
        wide: Tangent of its half angle.
        sun, sky, fill: Colours times strength, (scenes, 3).
    """

    to: Tensor
    wide: Tensor
    sun: Tensor
    sky: Tensor
    fill: Tensor


def light_of(b: Batch) -> Light:
    """A light from somewhere in front or beside, hard or soft, warm or cold."""
    yaw, pitch = b.uniform(-2.2, 2.2).flatten(), b.uniform(0.15, 1.3).flatten()
    to = torch.stack(
        [torch.sin(yaw) * torch.cos(pitch), torch.sin(pitch), torch.cos(yaw) * torch.cos(pitch)], 1
    )
    hard, warm = b.uniform(0, 1).flatten(), 0.12 * b.normal().flatten()
    tint = torch.stack([1 + warm, torch.ones_like(warm), 1 - warm], 1)
    strength = b.geometric(0.35, 1.1).flatten()[:, None]
    return Light(
        to=to,
        wide=b.geometric(0.02, 0.6).flatten(),
        sun=tint * strength * (0.25 + 0.75 * hard)[:, None],
        sky=(2 - tint) * strength * (0.65 - 0.5 * hard)[:, None],
        fill=strength * b.uniform(0.02, 0.3).flatten()[:, None] * torch.ones_like(tint),
    )


def exposure(b: Batch, colour: Tensor, hit: Tensor) -> Tensor:
    """What brings the mean of what is seen to where a camera brings it; (scenes, 1, 1)."""
    seen_ = hit.sum(1).clamp(min=1)
    mean = (colour.mean(1) * hit).sum(1) / seen_
    wanted = torch.where(b.chance(0.06) > 0, b.uniform(0.03, 0.12), b.uniform(0.2, 0.6))
    return (wanted / mean.clamp(min=1e-3).view(-1, 1, 1)).clamp(0.4, 6)


def shade(view: Seen, light: Light, paint: Paints) -> Tensor:
    """Light on each pixel, (scenes, 3, pixels)."""
    turned = (view.facing * light.to[:, :, None]).sum(1)
    direct = turned.clamp(min=0)
    # Light that came through skin reaches where it is turned away a little.
    soft = ((turned + 0.4) / 1.4).clamp(min=0) ** 1.5
    direct = torch.lerp(direct * view.open, soft * (0.3 + 0.7 * view.open), 0.6 * paint.skin)
    above = 0.55 + 0.45 * view.facing[:, 1]
    ahead = (-(view.facing * view.way).sum(1)).clamp(min=0)
    return (
        light.sun[:, :, None] * direct[:, None]
        + light.sky[:, :, None] * (above * view.sky)[:, None]
        + light.fill[:, :, None] * (ahead * view.sky)[:, None]
    )


def gloss(s: Studio, view: Seen, light: Light, paint: Paints) -> Tensor:
    """What shines: the light itself, and the room in a mirror."""
    b = s.b
    back = view.way - 2 * (view.facing * view.way).sum(1, keepdim=True) * view.facing
    towards = (back * light.to[:, :, None]).sum(1).clamp(min=0)
    sharp = b.geometric(12, 400).view(-1, 1)
    shine = towards**sharp * view.open * (0.3 + 0.7 * paint.gloss)
    which = torch.randint(len(s.bank.all), (b.scenes, 1), device=b.device).expand_as(towards)
    room = 0.5 + 0.25 * textured(s.bank, which, 0.3 * back[:, 0] + 3, 0.3 * back[:, 1] + 3)
    room = room * (0.5 + 0.5 * back[:, 1])
    left, low = b.uniform(-0.8, 0.5).view(-1, 1), b.uniform(-0.2, 0.5).view(-1, 1)
    window = (back[:, 0] > left) & (back[:, 0] < left + 0.3)
    window &= (back[:, 1] > low) & (back[:, 1] < low + 0.4)
    bright = b.chance(0.5).view(-1, 1) * b.uniform(0.3, 1.2).view(-1, 1)
    room = room.clamp(0, 1) * 0.5 + window.float() * bright
    # More at grazing light (Schlick 1994).
    grazing = (1 + (view.facing * view.way).sum(1)).clamp(0, 1) ** 5
    mirrored = paint.gloss * (0.08 + 0.5 * paint.gloss**3 + 0.4 * grazing)
    strength = 0.6 * light.sun + 0.3
    return (strength[:, :, None] * (0.5 * paint.gloss * shine + mirrored * room)[:, None]).clamp(
        0, 2
    )
