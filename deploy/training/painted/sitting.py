"""An animal that sits in profile with its tail, before leaves: soft silhouettes of one hue.

Its tail, flank and head are a fringe of hairs before what is out of focus and of a like tone;
haunch, arm and belly are of the coat that they lie on.
"""

from __future__ import annotations

from dataclasses import replace

import torch
from canvas import Paint
from fields import Frame, capsule, curve, ellipse
from studio import Studio
from torch import Tensor

from painted.animals import disc_eye, ear
from painted.coats import Coat, blotches, clad, coat_of, joined, way


def sitting(s: Studio, f: Frame) -> None:
    """An animal that sits in profile, its tail behind it, on a branch or the ground."""
    b, c = s.b, s.canvas
    coat = coat_of(s, 0.7 * f.unit_px)
    long_tail = float(torch.rand(1)) < 0.75
    c.new_thing()
    if torch.rand(1) < 0.7:
        with c.behind():
            _perch(s, f)
    c.new_thing()
    if long_tail:
        _brush(s, f, coat)
    neck = capsule(f, (0.15, -0.35, -0.15, 0.5), (0.42, 0.6))
    back = ellipse(f, -0.3, 0.75, b.uniform(0.6, 0.85), b.uniform(0.75, 1.0))
    body = joined(back, neck, 0.2)
    _clad_body(s, f, body, coat, 1.0)
    blotches(s, torch.sigmoid(-f.px(body) / 3), 0.35)
    belly = torch.maximum(ellipse(f, 0.25, 0.75, b.uniform(0.2, 0.4), 0.55), body + 0.04)
    pale = replace(coat, paint=s.like(coat.paint, 0.2))
    _clad_body(s, f, belly, pale, 0.7)
    haunch = ellipse(f, b.uniform(-0.5, -0.2), 1.15, b.uniform(0.42, 0.6), b.uniform(0.35, 0.5))
    c.shade(1 - b.uniform(0, 0.4) * torch.sigmoid(-f.px(haunch - 0.06) / f.px(0.05)))
    _clad_body(s, f, haunch, replace(coat, paint=s.like(coat.paint, 0.02)), 0.65)
    foot = capsule(f, (-0.15, 1.52, b.uniform(0.2, 0.5), 1.55), (0.13, 0.09))
    _clad_body(s, f, foot, replace(coat, paint=s.like(coat.paint, 0.05)), 0.9)
    _head(s, f.moved(b.uniform(0.2, 0.45), b.uniform(-0.75, -0.55), 0.52), coat)
    arm = capsule(f, (0.2, 0.1, b.uniform(0.6, 0.95), b.uniform(0.05, 0.4)), (0.2, 0.09))
    c.shade(1 - b.uniform(0, 0.35) * torch.sigmoid(-f.px(arm - 0.05) / f.px(0.04)))
    _clad_body(s, f, arm, coat, 0.8)


def _clad_body(s: Studio, f: Frame, shape: Tensor, coat: Coat, worth: float) -> None:
    """Fur that lies backwards and downwards over a form, and a little away from it."""
    px = f.px(shape)
    out = way(px)
    down = (-0.4 + 0 * px, 0.9 + 0 * px)
    lift = s.b.uniform(0.3, 0.8)
    flow = (down[0] + lift * out[0], down[1] + lift * out[1])
    clad(s, px, coat, flow, s.limb(shape, 0.6) * s.flat(f), worth=worth)


def _brush(s: Studio, f: Frame, coat: Coat) -> None:
    """A tail that stands or hangs: a core, and long hairs that light shines through."""
    b = s.b
    up = b.uniform(-1.4, 0.6)
    points = (
        (-0.6, 1.4),
        (b.uniform(-2.0, -1.2), b.uniform(0.6, 1.6)),
        (b.uniform(-1.6, -0.7), up),
    )
    off, along, side = curve(f, points)
    thick = (
        b.uniform(0.14, 0.42)
        * (0.45 + 1.2 * along)
        * torch.sqrt((1.05 - along).clamp(min=0) * 3).clamp(max=1)
    )
    shape = off - thick
    px = f.px(shape)
    out, ahead = way(px), way(along)
    lift = b.uniform(0.3, 0.9)
    flow = (ahead[0] + lift * out[0], ahead[1] + lift * out[1])
    brush = replace(coat, paint=s.like(coat.paint, 0.06), long_px=1.6 * coat.long_px)
    core = torch.exp(-((off / (0.4 * thick + 0.01)) ** 2))
    light = 1 + b.uniform(-0.5, 0.5) * core + b.uniform(-0.5, 0.2) * along + 0.1 * side
    clad(s, px, brush, flow, light.clamp(0.15, 1.8), fringe=float(1.2 + 1.3 * torch.rand(1)))


def _head(s: Studio, f: Frame, coat: Coat) -> None:
    """A head in profile with ear, eye, nose and mouth."""
    b, c = s.b, s.canvas
    long, low = b.uniform(0.85, 1.4), b.uniform(0.1, 0.3)
    if torch.rand(1) < 0.6:
        ear(s, f.moved(b.uniform(-0.5, -0.2), -0.5), coat.paint)
    skull = ellipse(f, 0, 0, b.uniform(0.7, 0.9), b.uniform(0.62, 0.75))
    muzzle = capsule(f, (0.3, low, long, low + 0.1), (0.42, b.uniform(0.14, 0.26)))
    head = joined(skull, muzzle, 0.2)
    px = f.px(head)
    out = way(px)
    flow = (-0.9 + 0.4 * out[0], 0.2 + 0.4 * out[1])
    c.shade(1 - b.uniform(0, 0.3) * torch.sigmoid(-f.px(head - 0.1) / f.px(0.08)))
    clad(s, px, coat, flow, s.round(f.moved(0.3, 0), 1.3, 1.1), fringe=0.5)
    cheek = torch.sigmoid(-f.px(ellipse(f, 0.4, 0.4, 0.6, 0.3)) / f.px(0.1))
    c.shade(1 + b.uniform(-0.1, 0.5) * cheek * torch.sigmoid(-px / 2))
    nose = ellipse(f, long + 0.1, low, b.uniform(0.07, 0.12), b.uniform(0.06, 0.11))
    c.part(f.px(nose), s.dark(0.3), s.round(f.moved(long + 0.1, low, 0.1)))
    mouth = ((long + 0.1, low + 0.14), (long - 0.2, low + 0.26), (0.5, low + 0.2))
    off, _, _ = curve(f, mouth)
    c.thread(f.px(off), b.geometric(0.4, 1.5), s.dark(0.3))
    ear(s, f.moved(b.uniform(-0.4, -0.1), -0.55), coat.paint)
    disc_eye(
        s, f.moved(b.uniform(0.25, 0.4), b.uniform(-0.2, -0.05), b.uniform(0.12, 0.2)), coat.paint
    )


def _perch(s: Studio, f: Frame) -> None:
    """A bough, or a trunk that lies, with bark."""
    b = s.b
    bark: Paint = s.paint(plain=0.0, most=0.3, among=s.bank.hair)
    ends = (b.uniform(-2.5, -0.8), b.uniform(1.8, 3.0), b.uniform(0.8, 3.0), b.uniform(0.0, 2.0))
    limb = capsule(f, ends, (b.uniform(0.2, 0.5), b.uniform(0.15, 0.35)))
    s.furry(f, limb, s.ragged(f), bark, s.limb(limb, 0.3))
