"""Puts what is seen of solids on a canvas: colours under light, and the contours among them."""

from __future__ import annotations

import torch
import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from canvas import Canvas, Solid
from studio import Studio
from torch import Tensor

from solids.folds import contours
from solids.light import exposure, gloss, light_of, shade
from solids.paints import Paints
from solids.slots import FAR, GROUND
from solids.solids import Solids
from solids.view import FINER, Camera, Small, seen

#: How often what is rough has hairs across its outlines.
_FRAYED = 0.7


def render(s: Studio, solids: Solids, eye: Camera) -> Tensor:
    """Draw solids over what is on the canvas.

    Returns:
        How far off each pixel is, (scenes, rows, columns).
    """
    side_px = s.b.side_px
    light = light_of(s.b)
    view = seen(eye, solids, (light.to, light.wide), side_px * FINER)
    unit_px = eye.length[:, None] * side_px / view.far.clamp(min=0.1)
    paint = Paints(solids, view, s.bank, unit_px)
    lit, shine = shade(view, light, paint), gloss(s, view, light, paint)
    small = Small(s.b.scenes, side_px * FINER)
    gain = exposure(s.b, paint.colour * lit, view.hit)
    plain = (gain * (paint.colour * lit + shine)).clamp(0, 1.2)
    grained = gain * ((paint.colour + paint.grain) * lit + shine)
    cover = small.mean(view.hit.float()[:, None])[:, 0]
    sun_share = (light.sun.mean(1) / (light.sun + light.sky + light.fill).mean(1))[:, None]
    found = contours(small, view, paint, solids)
    s.canvas.solid(
        Solid(
            image=small.mean(grained),
            plain=small.mean(plain),
            cover=cover,
            part=small.first(paint.number),
            thing=small.first(paint.thing),
            worth=small.first(paint.worth),
            amount=small.first(paint.amount),
            edges=found,
            kind=small.first(paint.kind),
            ground=small.first((view.which >= GROUND).float()),
            shadow=small.mean((1 - view.open)[:, None])[:, 0] * sun_share[:, :, None],
        )
    )
    if torch.rand(1) < _FRAYED:
        _fray(s, small.first(paint.rough * view.hit))
    return small.first(torch.where(view.hit, view.far, 2 * FAR))


def _fray(s: Studio, rough: Tensor) -> None:
    """Hairs that stand out across the outlines of what is rough."""
    near = F.max_pool2d((rough > 0).float()[:, None], 13, 1, 6)
    near = F.avg_pool2d(near, 7, 1, 3)[:, 0] * s.b.geometric(1.0, 8.0)
    across, down = (near * s.bank.picked(s.b, s.bank.hair) for _ in range(2))
    s.canvas.fray(across, down)


def focus(canvas: Canvas, far: Tensor, at: Tensor, most_px: float) -> None:
    """Blur what is not as far off as `at` (scenes, 1, 1): depth of field of a lens."""
    circle = (most_px * (1 - at / far.clamp(min=0.1)).abs() * 2).clamp(max=most_px)
    canvas.blur(F.avg_pool2d(circle[:, None], 9, 1, 4, count_include_pad=False)[:, 0])
