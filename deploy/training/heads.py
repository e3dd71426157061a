"""Heads from the front or half turned, with what a face has."""

from __future__ import annotations

from dataclasses import replace

import torch
from canvas import Paint
from eyes import eye, eye_paints
from fields import Frame, blob, box, capsule, curve, ellipse
from studio import Studio, crease
from torch import Tensor

#: Half heights from which a nostril and a lip are drawn with an outline.
_HOLE_PX, _LIP_PX = 2.4, 2.2
#: Moves what is not to be painted in some scenes out of them.
_AWAY = 100.0


def head(s: Studio, f: Frame) -> None:
    """A head with neck and shoulders, from the front or half turned."""
    b, c = s.b, s.canvas
    skin, hair = s.skin(), s.hairy(0.2)
    turn = b.uniform(-0.3, 0.3)
    if torch.rand(1) < 0.25:
        # A ground of nearly the same tone: contours of cheek and jaw are faint, and are drawn.
        c.new_thing()
        c.part(f.px(blob(b, f.moved(0, 0, 2.4), 0.3)), s.like(skin, 0.04), s.flat(f))
    c.new_thing()
    if torch.rand(1) < 0.8:
        _shoulders(s, f)
        c.part(
            f.px(capsule(f, (0.0, 0.4, turn * 0.5, 1.7), (0.42, 0.5))),
            skin,
            b.uniform(0.5, 1.02) * s.flat(f),
        )
    c.new_thing()
    long = b.uniform(-0.2, 0.9)
    back = torch.minimum(ellipse(f, 0, -0.25, 0.92, 1.0), box(f, 0, 0.3, 0.85, 0.3 + long))
    if torch.rand(1) < 0.85:
        c.part(f.px(back + s.ragged(f)), hair, s.round(f.moved(0, 0, 1.3)))
    for side in (-1, 1):
        c.part(
            f.px(ellipse(f, 0.76 * side + 0.1 * turn, 0.05, 0.11, 0.22)),
            s.like(skin, 0.03),
            s.flat(f),
        )
    wide, chin = b.uniform(0.66, 0.8), b.uniform(0.45, 0.62)
    face = torch.minimum(ellipse(f, 0, -0.12, wide, 0.86), ellipse(f, 0.1 * turn, 0.3, chin, 0.72))
    c.part(f.px(face), skin, s.round(f, 0.95, 1.2))
    across = torch.sigmoid((f.u * b.sign() - b.uniform(-0.4, 0.5)) * b.geometric(2, 9))
    c.shade(1 - b.uniform(0, 0.6) * b.chance(0.6) * across)
    _features(s, f.moved(turn, b.uniform(-0.05, 0.08)), skin, hair)
    _hairdo(s, f, hair, face)


def _shoulders(s: Studio, f: Frame) -> None:
    below = ellipse(f, 0, 2.35, s.b.uniform(1.3, 1.9), s.b.uniform(0.8, 1.1))
    s.canvas.part(f.px(below), s.paint(plain=0.5, most=0.12), s.flat(f))
    for _ in range(int(torch.randint(0, 4, (1,)))):
        at = s.b.uniform(-1.2, 1.2)
        crease(s, f, ((at, 1.6), (at + 0.1, 2.0), (at * 1.2, 2.7)), deep=0.5, within=below)


def _hairdo(s: Studio, f: Frame, hair: Paint, face: Tensor) -> None:
    """Hair over the forehead, a hat, or a beard."""
    kind, c = float(torch.rand(1)), s.canvas
    line = s.b.uniform(-0.75, -0.4) + s.b.uniform(-0.3, 0.3) * f.u + s.b.uniform(0, 0.5) * f.u**2
    top = torch.maximum(ellipse(f, 0, -0.3, 0.86, 0.86), f.v - line)
    if kind < 0.7:
        c.part(f.px(top + s.ragged(f, 3)), s.like(hair), s.round(f.moved(0, 0, 1.3)), worth=0.8)
    elif kind < 0.85:
        c.new_thing()
        c.part(f.px(torch.maximum(ellipse(f, 0, -0.5, 1.0, 0.8), f.v + 0.5)), s.paint(), s.round(f))
        c.part(f.px(ellipse(f, 0, -0.52, s.b.uniform(1.0, 1.6), 0.1)), s.paint(), s.flat(f))
    if torch.rand(1) < 0.2:
        low = torch.maximum(face, 0.42 - f.v + 0.4 * (f.u.abs() < 0.25) * (f.v < 0.75))
        soft = torch.sigmoid(-f.px(low) / 2.5) * s.b.uniform(0, 0.6)
        c.shade(1 - soft * (0.6 + 0.4 * s.bank.picked(s.b, s.bank.hair)).clamp(0, 1.5))


def _features(s: Studio, f: Frame, skin: Paint, hair: Paint) -> None:
    c, b = s.canvas, s.b
    apart, high = b.uniform(0.3, 0.4), b.uniform(-0.16, -0.02)
    slant, paints = b.uniform(-0.15, 0.15), eye_paints(s, skin, hair)
    wide = b.uniform(0.14, 0.19)
    for side in (-1, 1):
        u = (f.u - side * apart) * side
        level = Frame(u, f.v - high + slant * u, f.unit_px).moved(0, 0, wide)
        eye(s, level, replace(paints, look=paints.look * side), side)
    _nose(s, f)
    _mouth(s, f, skin)
    large = (f.unit_px > 24).float()
    if torch.rand(1) < 0.3:
        for side in (-1, 1):
            fold = Frame(f.u * side, f.v, f.unit_px)
            crease(s, fold, ((0.16, 0.28), (0.3, 0.4), (0.36, 0.62)), deep=0.35, drawn=large)
    if torch.rand(1) < 0.15:
        rim = s.dark(0.5)
        for side in (-1, 1):
            ring = ellipse(f, side * 0.36, -0.05, 0.27, 0.22).abs()
            c.thread(f.px(ring), b.geometric(0.4, 1.6), rim)
        c.thread(f.px(capsule(f, (-0.1, -0.08, 0.1, -0.08), (0.0, 0.0))), 0.6, rim)


def _nose(s: Studio, f: Frame) -> None:
    c, b = s.canvas, s.b
    way, low, large = b.sign(), b.uniform(0.26, 0.36), (f.unit_px > 26).float()
    side = Frame(f.u * way, f.v, f.unit_px)
    ridge = torch.exp(-(((side.u - 0.12) / 0.09) ** 2)) * torch.sigmoid((f.v + 0.1) * 12)
    c.shade(1 - b.uniform(0, 0.4) * ridge * torch.sigmoid((low - f.v) * 14))
    crease(s, side, ((0.05, -0.12), (0.06, 0.1), (0.13, low)), deep=0.35, drawn=large)
    for which in (-1, 1):
        half = Frame(f.u * which, f.v, f.unit_px)
        wing = ((0.1, low - 0.1), (0.21, low - 0.03), (0.12, low + 0.04))
        crease(s, half, wing, deep=0.6, drawn=large)
        _nostril(s, half, low)
    c.shade(
        1 - b.uniform(0, 0.25) * torch.exp(-((f.u / 0.2) ** 2 + ((f.v - low - 0.1) / 0.06) ** 2))
    )


def _nostril(s: Studio, half: Frame, low: Tensor) -> None:
    """One stroke, or an outline where it is large."""
    b, c = s.b, s.canvas
    wide, high, dark = b.uniform(0.03, 0.055), b.uniform(0.012, 0.03), s.dark(0.25)
    large = (half.px(high) > _HOLE_PX).float()
    hole = half.px(ellipse(half, 0.075, low + 0.02, wide, high))
    c.part(hole + _AWAY * (1 - large), dark, torch.ones_like(hole), worth=0.8)
    ends = (0.075 - wide, low + 0.025, 0.075 + wide, low + 0.01)
    off = half.px(capsule(half, ends, (0.0, 0.0)))
    c.thread(off + _AWAY * large, half.px(high).clamp(0.4, _HOLE_PX), dark)


def _mouth(s: Studio, f: Frame, skin: Paint) -> None:
    c, b = s.canvas, s.b
    at, wide, smile = b.uniform(0.5, 0.58), b.uniform(0.2, 0.34), b.uniform(-0.08, 0.14)
    m = Frame(f.u, f.v - at + smile * (f.u / 0.3) ** 2, f.unit_px)
    lips = replace(
        skin,
        colour=(skin.colour * b.uniform(0.55, 1.0)[:, None] + 0.06 * b.normal(3)).clamp(0.02, 0.95),
    )
    full = b.uniform(0.03, 0.09)
    drawn = (m.px(full) > _LIP_PX).float()
    c.part(
        m.px(ellipse(m, 0, 0.3 * full, wide, full * 1.3)),
        lips,
        1 - 1.5 * m.v,
        worth=0.9,
        drawn=drawn,
    )
    c.part(
        m.px(ellipse(m, 0, -0.4 * full, wide * 0.95, full * 0.8)),
        s.like(lips, 0.02),
        0.9 - m.v,
        worth=0.7,
        drawn=drawn,
    )
    if torch.rand(1) < 0.3:
        open_by = b.uniform(0.02, 0.12)
        gap = ellipse(m, 0, 0, wide * 0.8, open_by)
        c.part(m.px(gap), s.dark(0.2), torch.ones_like(gap))
        teeth = m.px(torch.maximum(gap, m.v - 0.6 * open_by))
        parted = (m.px(open_by) > 2 * _LIP_PX).float()
        c.part(teeth, s.bright(), 0.9 + 0 * m.u, worth=0.7, drawn=parted)
    else:
        off, along, _ = curve(m, ((-wide, 0.0), (0.0, b.uniform(-0.03, 0.03)), (wide, 0.0)))
        half = m.px(0.012 * (1.2 - (2 * along - 1).abs())).clamp(0.3, 3)
        c.thread(m.px(off), half, s.dark(0.25))
