"""Eyes of any size: lids, the fold above, iris, pupil and brow.

What a draughtsman draws of an eye depends on its size on paper: of a small one the upper lid and
little else, of a large one lids, fold, iris and pupil, each once. What is too small to be drawn
is painted all the same, without being a line.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import torch
from canvas import Paint
from fields import AWAY, Frame, curve, ellipse
from studio import Studio, crease
from torch import Tensor

#: Lines nearer than this are one.
_APART_PX = 3.5
#: The iris is drawn from this radius on, and the pupil; smaller ones are a dark dot.
_IRIS_PX, _PUPIL_PX, _GLINT_PX = 3.2, 2.4, 3.0
#: A brow of less than this half width is one line.
_BROW_PX = 1.8


@dataclass(frozen=True)
class EyePaints:
    """What both eyes of a head are painted with, and how they are open.

    Attributes:
        opened, low: How far the lids are above and below the corners, in half widths.
        look: Where the iris is, to the right.
    """

    skin: Paint
    iris: Paint
    lash: Paint
    brow: Paint
    opened: Tensor
    low: Tensor
    look: Tensor
    shut: bool


def eye_paints(s: Studio, skin: Paint, hair: Paint) -> EyePaints:
    """Paints for the eyes of one head."""
    b = s.b
    iris = s.dark(0.3) if torch.rand(1) < 0.5 else s.paint(plain=0.5, most=0.08)
    return EyePaints(
        skin=skin,
        iris=iris,
        lash=s.dark(),
        brow=s.like(hair, 0.05),
        opened=b.uniform(0.2, 0.62),
        low=b.uniform(0.08, 0.3),
        look=b.uniform(-0.3, 0.3),
        shut=float(torch.rand(1)) < 0.12,
    )


def eyes(s: Studio, f: Frame) -> None:
    """Eyes so close that little else is in the picture, in skin or fur."""
    skin, b = s.skin() if torch.rand(1) < 0.8 else s.hairy(0.15), s.b
    paints = eye_paints(s, skin, s.hairy(0.2))
    s.canvas.new_thing()
    s.canvas.part(f.px(ellipse(f, 2.0, 1.0, 6.0, 6.5)), skin, s.round(f.moved(2, 1, 6)))
    apart = b.uniform(3.4, 4.4)
    for side in (1, -1):
        eye(s, Frame((f.u - 2) * side - apart / 2, f.v, f.unit_px), paints, side)


def eye(s: Studio, e: Frame, paints: EyePaints, side: int) -> None:
    """An eye with its brow.

    Args:
        s: The studio.
        e: Its middle and half width; `u` to its outer corner.
        paints: Of both.
        side: 1 or -1, of which side of the head it is.
    """
    b = s.b
    hollow = torch.exp(-((e.u / 1.7) ** 2) - ((e.v + 0.3) / 1.1) ** 2)
    s.canvas.shade(1 - b.uniform(0, 0.4) * hollow)
    peak = b.uniform(-0.3, 0.3)
    bow = (1 - e.u**2).clamp(-0.5, 1)
    upper = -paints.opened * bow * (1 + peak * e.u) - 0.06 * e.u
    lower = paints.low * bow * (1 - peak * e.u) - 0.06 * e.u
    if not paints.shut:
        _ball(s, e, paints, torch.maximum(e.u.abs() - 1, torch.maximum(upper - e.v, e.v - lower)))
        _lower_lid(s, e, paints, lower)
    lid = lower if paints.shut else upper
    _upper_lid(s, e, paints, lid)
    _brow(s, e, paints, side)


def _ball(s: Studio, e: Frame, paints: EyePaints, opening: Tensor) -> None:
    b, c = s.b, s.canvas
    look = paints.look + 0.05 * b.normal()
    high_px = e.px(paints.opened + paints.low)
    white = (paints.skin.colour * 0.5 + b.uniform(0.15, 0.45)[:, None]).clamp(0, 0.95)
    tone = replace(s.bright(), colour=white)
    c.part(
        e.px(opening),
        tone,
        (1.05 + 0.35 * e.v).clamp(0.4, 1.1),
        drawn=(high_px > _APART_PX).float(),
    )
    radius = b.uniform(0.4, 0.56)
    disc = torch.maximum(opening, ellipse(e, look, -0.06, radius, radius))
    ring = ellipse(e, look, -0.06, radius * 0.85, radius * 0.85)
    c.part(
        e.px(disc),
        s.like(paints.iris, -0.08),
        1 + 0.4 * e.v,
        drawn=((e.px(radius) > _IRIS_PX) & (high_px > _APART_PX)).float(),
    )
    c.part(e.px(torch.maximum(opening, ring)), paints.iris, 1 + 0.6 * e.v, drawn=0 * radius)
    size = radius * b.uniform(0.28, 0.55)
    pupil = torch.maximum(opening, ellipse(e, look, -0.06, size, size))
    c.part(
        e.px(pupil),
        s.dark(0.06),
        torch.ones_like(pupil),
        drawn=((e.px(size) > _PUPIL_PX) & (e.px(radius - size) > _APART_PX)).float(),
    )
    glint = b.uniform(0.05, 0.16)
    at = ellipse(e, look + b.uniform(-0.2, 0.2), -0.2 + 0.1 * b.normal(), glint, glint)
    spot = e.px(torch.maximum(at, opening)) + AWAY * b.chance(0.25)
    c.part(
        spot, s.bright(), torch.ones_like(at), worth=0.6, drawn=(e.px(glint) > _GLINT_PX).float()
    )
    # The lid throws a soft shade on the ball.
    c.shade(
        1 - b.uniform(0, 0.5) * torch.sigmoid(-e.px(opening)) * torch.exp(-(e.v + 0.5).abs() * 5)
    )


def _upper_lid(s: Studio, e: Frame, paints: EyePaints, lid: Tensor) -> None:
    """One heavy line from corner to corner, and the fold above it."""
    b, c = s.b, s.canvas
    within = e.px(e.u.abs() - b.uniform(1.0, 1.15))
    slope = torch.sqrt(1 + (1.6 * paints.opened * e.u) ** 2)
    half = e.px(b.geometric(0.015, 0.1) * (1 + 0.4 * e.u).clamp(0.6, 1.4)).clamp(0.35, 6)
    hairs = 0.5 * half * s.bank.picked(b, s.bank.hair) * b.chance(0.5)
    c.thread(
        torch.maximum(e.px((e.v - lid).abs()) / slope + hairs.clamp(min=0), within + half),
        half,
        paints.lash,
    )
    if torch.rand(1) < 0.85:
        up = b.uniform(0.12, 0.5)
        parted = (e.px(up) > _APART_PX + half.amax((1, 2), keepdim=True)).float()
        middle = -1.8 * paints.opened - 1.6 * up
        fold = ((-1.05, -0.25 * up), (b.uniform(-0.3, 0.2), middle), (1.15, -0.5 * up))
        crease(s, e, fold, deep=0.6, drawn=parted)
    if torch.rand(1) < 0.3:
        bag = ((-0.9, 0.5), (0.0, b.uniform(0.6, 1.2)), (1.0, 0.5))
        crease(s, e, bag, deep=0.25, drawn=(e.unit_px > 9).float())


def _lower_lid(s: Studio, e: Frame, paints: EyePaints, lower: Tensor) -> None:
    b, c = s.b, s.canvas
    off = torch.maximum(e.px((e.v - lower).abs()), e.px(e.u.abs() - 0.95))
    high_px = e.px(paints.opened + paints.low)
    lash = s.like(paints.skin, -0.1) if torch.rand(1) < 0.7 else paints.lash
    half = b.geometric(0.2, 1.0)
    c.thread(off, half, lash, mark=True, drawn=(high_px > _APART_PX).float())


def _brow(s: Studio, e: Frame, paints: EyePaints, side: int) -> None:
    """Hair with an outline of its own, or one line where it is thin."""
    b, c = s.b, s.canvas
    high = b.uniform(-1.5, -0.9)
    arch = ((-1.2, high + 0.25), (0.1 * side, high - 0.55), (1.55, high + b.uniform(0.1, 0.5)))
    off, along, _ = curve(e, arch)
    thick = b.uniform(0.07, 0.3)
    half, fine = e.px(thick * (1.2 - along)), (e.px(thick) < _BROW_PX).float()
    ragged = 0.35 * half.clamp(max=4) * s.bank.picked(b, s.bank.hair)
    c.thread(e.px(off) + AWAY * (1 - fine), half.clamp(0.4, _BROW_PX), paints.brow)
    c.part(e.px(off) - half + ragged + AWAY * fine, paints.brow, torch.ones_like(off), worth=0.65)
