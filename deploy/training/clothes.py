"""What a chest wears, flat upon it: shirt, tie and lapels, a neckline, a scarf, buttons."""

from __future__ import annotations

from dataclasses import replace

import torch
from canvas import Paint
from fields import Frame, box, capsule, ellipse
from studio import Studio, crease
from torch import Tensor

#: Half widths from which narrow parts are drawn with an outline.
_NARROW_PX = 2.0


def clothes(s: Studio, f: Frame, tone: Tensor) -> None:
    """Clothes on a chest.

    Args:
        s: The studio.
        f: The middle of the chest, its unit a half head.
        tone: The colour of what is worn.
    """
    cloth = replace(s.paint(plain=0.7, most=0.05), colour=tone)
    kind = float(torch.rand(1))
    if kind < 0.45:
        _suit(s, f, cloth)
    elif kind < 0.8:
        _neckline(s, f, cloth)
    for _ in range(int(torch.randint(0, 4, (1,)))):
        side = 1.0 if torch.rand(1) < 0.5 else -1.0
        at = s.b.uniform(0.5, 1.2)
        fold = Frame(f.u * side, f.v, f.unit_px)
        points = ((at, s.b.uniform(-0.6, 0.2)), (at - 0.2, 0.5), (s.b.uniform(0.2, 1.0), 1.2))
        crease(s, fold, points, deep=0.5)


def _wedge(f: Frame, top: Tensor, low: Tensor, wide: Tensor) -> Tensor:
    """Distance to a wedge that stands on its tip, from `top` down to `low`."""
    slope = wide / (low - top)
    return torch.maximum(f.u.abs() - (low - f.v) * slope, top - f.v) / torch.sqrt(1 + slope**2)


def _suit(s: Studio, f: Frame, cloth: Paint) -> None:
    """Shirt with collar, tie or none, lapels of the cloth's own colour, buttons."""
    b, c = s.b, s.canvas
    top, low, wide = b.uniform(-0.6, -0.3), b.uniform(0.3, 1.1), b.uniform(0.2, 0.4)
    shirt = s.bright() if torch.rand(1) < 0.6 else s.paint(plain=0.8, most=0.04)
    shown = _wedge(f, top, low, wide)
    c.part(f.px(shown), shirt, 0.9 + 0 * f.u, worth=1.0)
    lapel = s.like(cloth, 0.04)
    broad, notch = b.uniform(0.08, 0.2), b.uniform(-0.15, 0.1)
    for side in (-1, 1):
        h = Frame(f.u * side, f.v, f.unit_px)
        inner = (low - h.v) * wide / (low - top)
        rise = ((h.v - top) / (low - top)).clamp(0, 1)
        outer = inner + broad * (1 - rise) * 2.2 * (0.4 + 0.6 * (h.v > notch).float())
        band = torch.maximum(inner - h.u, h.u - outer)
        band = torch.maximum(band, torch.maximum(top - h.v, h.v - low))
        c.part(f.px(band), lapel, 1 + 0.15 * (h.u - 0.4), worth=0.9)
    for side in (-1, 1):
        h = Frame(f.u * side, f.v, f.unit_px)
        flap = capsule(h, (0.08, top - 0.1, wide * 0.85, top + 0.3), (0.05, 0.02))
        c.part(f.px(torch.maximum(flap, shown - 0.06)), s.like(shirt, 0.03), 1 + 0 * f.u, worth=0.8)
    if torch.rand(1) < 0.6:
        tie = s.paint(plain=0.5, most=0.15)
        down = (f.v - top).clamp(min=0)
        band = torch.maximum(f.u.abs() - 0.05 - 0.05 * down, torch.maximum(top - f.v, shown))
        c.part(f.px(band), tie, 1 - 0.3 * f.u, worth=0.95)
        c.part(f.px(box(f, 0.0, top + 0.09, 0.08, 0.08)), s.like(tie, 0.03), 1 + 0 * f.u, worth=0.8)
    for number in range(2):
        size = b.uniform(0.025, 0.045)
        c.part(
            f.px(ellipse(f, 0.03, low + 0.12 + 0.35 * number, size, size)),
            s.like(cloth, 0.08),
            1 - 4 * f.v.clamp(-0.1, 0.1),
            worth=0.8,
            drawn=(f.px(size) > _NARROW_PX).float(),
        )


def _neckline(s: Studio, f: Frame, cloth: Paint) -> None:
    """Skin down to a round or pointed neckline, with a rim, a chain or none."""
    b, c = s.b, s.canvas
    top, low, wide = b.uniform(-0.6, -0.35), b.uniform(-0.1, 0.6), b.uniform(0.25, 0.5)
    if torch.rand(1) < 0.5:
        shown = _wedge(f, top, low, wide)
    else:
        shown = torch.maximum(ellipse(f, 0.0, top, wide, low - top), top - f.v)
    rim = b.geometric(0.02, 0.08)
    if torch.rand(1) < 0.5:
        parted = (f.px(rim) > 2 * _NARROW_PX).float()
        c.part(f.px(shown - rim), s.like(cloth, 0.1), 1 + 0 * f.u, worth=0.8, drawn=parted)
    c.part(f.px(shown), s.skin(), b.uniform(0.5, 1.0) - 0.2 * f.v, worth=1.0)
    if torch.rand(1) < 0.35:
        off = (ellipse(f, 0.0, top, wide * 0.8, (low - top) * b.uniform(0.4, 0.8))).abs()
        c.thread(f.px(torch.maximum(off, top - f.v)), b.geometric(0.3, 1.2), s.bright())
