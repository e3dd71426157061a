"""Heads from the front or half turned, with what a face has."""

from __future__ import annotations

from dataclasses import replace

import torch
from canvas import Paint
from fields import AWAY, Frame, blob, box, capsule, ellipse
from studio import Studio, crease
from torch import Tensor

from painted.eyes import eye, eye_paints
from painted.lights import light_on_face, shadow_of_chin

#: Half heights from which a nostril and a lip are drawn with an outline.
_HOLE_PX, _LIP_PX = 2.4, 2.2
#: How often there is gloss, or a cast shadow, on a head.
_LIT = 0.5
#: Lips against skin.
_REDDER = torch.tensor([1.0, 0.86, 0.86]).view(1, 3, 1, 1)


def head(s: Studio, f: Frame) -> None:
    """A head with neck and shoulders, from the front or half turned."""
    b, c = s.b, s.canvas
    skin, hair = s.skin(), s.hairy(0.2)
    turn = b.uniform(-0.3, 0.3)
    if torch.rand(1) < 0.25:
        # A ground of nearly the same tone: contours of cheek and jaw are faint, and are drawn.
        c.new_thing()
        with c.behind():
            c.part(f.px(blob(b, f.moved(0, 0, 2.4), 0.3)), s.like(skin, 0.04), s.flat(f))
    c.new_thing()
    if torch.rand(1) < 0.8:
        _shoulders(s, f)
        c.part(
            f.px(capsule(f, (0.0, 0.4, turn * 0.5, 1.7), (0.42, 0.5))),
            skin,
            b.uniform(0.5, 1.02) * s.flat(f),
        )
        if torch.rand(1) < _LIT:
            shadow_of_chin(s, f, turn)
    c.new_thing()
    long = b.uniform(-0.2, 0.9)
    back = torch.minimum(ellipse(f, 0, -0.25, 0.92, 1.0), box(f, 0, 0.3, 0.85, 0.3 + long))
    if torch.rand(1) < 0.85:
        s.furry(f, back, s.ragged(f), hair, s.round(f.moved(0, 0, 1.3)))
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
    low = b.uniform(-0.05, 0.08)
    _features(s, f.moved(turn, low), skin, hair)
    if torch.rand(1) < _LIT:
        light_on_face(s, f, face, (turn, low))
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
        s.furry(f, top, s.ragged(f, 3), s.like(hair), s.round(f.moved(0, 0, 1.3)), worth=0.8)
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
    mouth(s, f.moved(0.0, b.uniform(0.5, 0.58)), skin)
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
    c.part(hole + AWAY * (1 - large), dark, torch.ones_like(hole), worth=0.8)
    ends = (0.075 - wide, low + 0.025, 0.075 + wide, low + 0.01)
    off = half.px(capsule(half, ends, (0.0, 0.0)))
    c.thread(off + AWAY * large, half.px(high).clamp(0.4, _HOLE_PX), dark)


def mouth(s: Studio, m: Frame, skin: Paint, *, worn: bool = True) -> None:
    """Two lips with a bow above, shut or open, at times with teeth.

    Args:
        s: The studio.
        m: Its middle, in units of half a head.
        skin: What is around.
        worn: Whether it smiles by its frame; on a solid head the head is as it is.
    """
    c, b = s.canvas, s.b
    smile = b.uniform(-0.08, 0.14) * (1.0 if worn else 0.6)
    wide = b.uniform(0.2, 0.34)
    m = Frame(m.u, m.v + smile * (m.u / 0.3) ** 2, m.unit_px)
    lips = replace(
        skin,
        colour=(
            skin.colour * b.uniform(0.55, 1.05)[:, None] * _REDDER.to(skin.colour)
            + 0.04 * b.normal(3)
        ).clamp(0.02, 0.95),
    )
    full = b.uniform(0.035, 0.1)
    share = (m.u / wide).abs().clamp(max=1)
    taper = (1 - share**2).clamp(min=0)
    bow = 1 - b.uniform(0.1, 0.5) * torch.exp(-((m.u / (0.16 * wide)) ** 2))
    open_by = torch.zeros_like(full)
    if torch.rand(1) < 0.45:
        open_by = b.uniform(0.02, 0.14)
    above = 0.75 * full * taper * bow + 0.45 * open_by * taper
    below = 1.15 * full * taper + 0.55 * open_by * taper
    drawn = (m.px(full) > _LIP_PX).float()
    outline = torch.maximum(torch.maximum(-above - m.v, m.v - below), m.u.abs() - wide)
    soft = torch.where(b.chance(0.4) > 0, 0.02 * s.bank.picked(b), torch.zeros_like(m.u))
    c.part(m.px(outline) + soft, lips, 0.95 - 1.2 * m.v, worth=0.85, drawn=drawn)
    if float(open_by.max()) > 0:
        _open_mouth(s, m, (0.45 * open_by * taper, 0.55 * open_by * taper, 0.88 * wide), open_by)
        return
    dent = b.uniform(-0.03, 0.03) * taper
    off = (m.v - dent).abs()
    half = m.px(0.012 * (0.4 + taper)).clamp(0.3, 3)
    c.thread(torch.maximum(m.px(off), m.px(m.u.abs() - 1.02 * wide) + half), half, s.dark(0.25))


def _open_mouth(s: Studio, m: Frame, gap: tuple[Tensor, Tensor, Tensor], open_by: Tensor) -> None:
    """What is between lips: the dark, teeth above, one from the other where they are large."""
    c, b = s.canvas, s.b
    high, low, wide = gap
    inside = torch.maximum(torch.maximum(-high - m.v, m.v - low), m.u.abs() - wide)
    c.part(m.px(inside), s.dark(0.2), torch.ones_like(inside))
    if torch.rand(1) < 0.25:
        return
    rim = b.uniform(-0.3, 1.0) * open_by * 0.5
    teeth = torch.maximum(inside, m.v - rim)
    parted = (m.px(open_by) > 2 * _LIP_PX).float()
    c.part(m.px(teeth), s.bright(), 0.95 - 0.9 * (m.u / 0.3) ** 2, worth=0.8, drawn=parted)
    each = b.uniform(0.035, 0.06)
    between = ((m.u / each + 0.5).remainder(1.0) - 0.5).abs() * each
    off = m.px(torch.maximum(between, torch.maximum(teeth, torch.zeros_like(teeth))))
    c.thread(off + AWAY * b.chance(0.5), 0.4, s.dark(0.5), mark=True, drawn=0 * parted)


def face_folds(s: Studio, m: Frame) -> None:
    """Folds from the nose to the mouth's corners and below, of a face whose mouth is at `m`."""
    large = (m.unit_px > 30).float()
    if torch.rand(1) < 0.4:
        for side in (-1, 1):
            fold = Frame(m.u * side, m.v, m.unit_px)
            crease(s, fold, ((0.17, -0.26), (0.33, -0.14), (0.38, 0.1)), deep=0.35, drawn=large)
    if torch.rand(1) < 0.3:
        chin = ((-0.15, 0.16), (0.0, s.b.uniform(0.14, 0.24)), (0.15, 0.16))
        crease(s, m, chin, deep=0.25, drawn=0 * large)
    if torch.rand(1) < 0.15:
        for line in range(3):
            at = -1.25 - 0.11 * line
            crease(s, m, ((-0.4, at), (0.0, at - 0.08), (0.4, at)), deep=0.2, drawn=large)
    if torch.rand(1) < 0.25:
        _stubble(s, m)


def _stubble(s: Studio, m: Frame) -> None:
    """Short hair around the mouth and on the chin: darker, and no contour."""
    b = s.b
    around = ellipse(m, 0.0, 0.12, b.uniform(0.35, 0.6), b.uniform(0.3, 0.5))
    soft = torch.sigmoid(-m.px(around) / b.uniform(2, 8)) * b.uniform(0.1, 0.6)
    s.canvas.shade(1 - soft * (0.7 + 0.5 * s.bank.picked(b, s.bank.hair)).clamp(0, 1.5))
