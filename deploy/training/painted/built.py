"""Things that people build: fronts with beams and windows, roofs, columns, lattices, turned work.

All are straight or evenly round, with sharp corners, and like things in a row are alike. A bar
that is wide enough has two edges, a thinner one is one line along its middle.
"""

from __future__ import annotations

import torch
from canvas import Paint
from fields import AWAY, Frame, box, capsule, ellipse
from studio import Studio
from torch import Tensor

#: Bars of less than this half width are one line, wider ones two.
_BAR_PX = 1.5
#: An opening, a frame's rim or a ledge with a smaller side than this is not drawn.
_OPENING_PX, _RIM_PX, _LEDGE_PX = 8.0, 3.0, 3.0


def lattice(s: Studio, f: Frame) -> None:
    """A fence, railing, grating or rigging: thin bars are lines, beams have two edges."""
    pitch = s.b.geometric(9, 50) / f.unit_px
    within = box(f, 0, 0, s.b.uniform(0.6, 1.6), s.b.uniform(0.4, 1.2))
    half = s.b.geometric(0.35, 1.4) if torch.rand(1) < 0.5 else f.px(pitch) * s.b.uniform(0.06, 0.2)
    s.canvas.new_thing()
    axes = (f.u, f.v)[: int(torch.randint(1, 3, (1,)))]
    _bars(s, f, [_rows(axis, pitch) for axis in axes], half, s.paint(plain=0.8, most=0.05), within)


def building(s: Studio, f: Frame) -> None:
    """A house, tower or hall, from afar or its front near by."""
    b, c = s.b, s.canvas
    far = b.uniform(-0.25, 0.25)
    p = Frame(
        f.u / (1 + far * f.v).clamp(0.4, 2), f.v / (1 + 0.5 * far * f.u).clamp(0.4, 2), f.unit_px
    )
    wide, high = b.uniform(0.5, 1.5), b.uniform(0.5, 1.5)
    masonry = torch.rand(1) < 0.4
    wall = s.paint(plain=0.1, most=0.25, among=s.bank.built) if masonry else s.paint(plain=0.5)
    c.new_thing()
    if torch.rand(1) < 0.7:
        _roof(s, p, wide, high)
    c.part(f.px(box(p, 0, 0, wide, high)), wall, s.flat(f))
    inside = box(p, 0, 0, wide * 0.98, high * 0.98)
    if torch.rand(1) < 0.35:
        _timber(s, p, wide, high, inside)
    if torch.rand(1) < 0.85:
        _windows(s, p, (wide, high), wall)
    if torch.rand(1) < 0.3:
        _door(s, p, wide, high)
    for _ in range(int(torch.randint(0, 4, (1,)))):
        at, thick = b.uniform(-1, 1) * high, b.uniform(0.015, 0.06)
        ledge = box(p, 0, at, wide * b.uniform(1, 1.06), thick)
        drawn = (p.px(2 * thick) > _LEDGE_PX).float()
        c.part(f.px(ledge), s.like(wall, 0.1), 1 + 0 * f.u, worth=0.9, drawn=drawn)
    if torch.rand(1) < 0.35:
        _columns(s, p, wide, high)


def turned(s: Studio, f: Frame) -> None:
    """An urn, a baluster, a pillar with its cap, a lamp: alike on both sides, with ledges."""
    b, c = s.b, s.canvas
    paint, half = s.paint(plain=0.4, most=0.15), b.uniform(0.25, 0.5)
    profile = half + 0 * f.v
    for waves in (1.3, 2.7, 4.1):
        profile = profile + 0.25 / waves * b.normal() * torch.sin(waves * f.v + b.uniform(0, 6.3))
    profile = profile.clamp(min=0.06)
    ledges = [(b.uniform(-1, 1), b.geometric(0.03, 0.14), b.uniform(0.03, 0.2)) for _ in range(5)]
    count = int(torch.randint(1, 6, (1,)))
    c.new_thing()
    body = torch.maximum(f.u.abs() - profile, f.v.abs() - 1)
    light = s.round(Frame(f.u / profile, 0 * f.v, f.unit_px), 1.05, 8.0)
    c.part(f.px(body), paint, light)
    for at, thick, out in ledges[:count]:
        step = torch.maximum(f.u.abs() - profile - out, (f.v - at).abs() - thick)
        c.part(f.px(step), s.like(paint, 0.04), light, worth=0.9)
    if torch.rand(1) < 0.5:
        knob = b.uniform(0.12, 0.3)
        ball = ellipse(f, 0, -1 - 0.9 * knob, knob, knob)
        c.part(f.px(ball), s.like(paint, 0.03), s.round(f.moved(0, -1 - 0.9 * knob, knob)))


def _rows(axis: Tensor, pitch: Tensor) -> Tensor:
    """Distance to the nearest of lines that stand so far apart, the first at half of that."""
    return ((axis + 50 * pitch) % pitch - pitch / 2).abs()


def _bars(
    s: Studio, f: Frame, lines: list[Tensor], half_px: Tensor, paint: Paint, within: Tensor
) -> None:
    """Bars of one paint along some lines: one line each where they are thin, else their edges."""
    c, fine = s.canvas, (half_px < _BAR_PX).float()
    off = torch.stack(torch.broadcast_tensors(*lines)).amin(0)
    thin = half_px.clamp(0.35, _BAR_PX)
    c.thread(torch.maximum(f.px(off), f.px(within) + thin) + AWAY * (1 - fine), thin, paint)
    wide = torch.maximum(f.px(off) - half_px, f.px(within)) + AWAY * fine
    c.part(wide, paint, 1 + 0 * f.u, worth=0.9)


def _timber(s: Studio, p: Frame, wide: Tensor, high: Tensor, within: Tensor) -> None:
    """Posts, rails and braces of a half-timbered front."""
    b = s.b
    posts, rails = (
        2 * side / torch.randint(2, 6, (b.scenes, 1, 1), device=b.device) for side in (wide, high)
    )
    half = torch.minimum(posts, rails) * b.uniform(0.05, 0.14)
    lines = [_rows(p.u + wide, posts), _rows(p.v + high, rails)]
    for _ in range(int(torch.randint(0, 4, (1,)))):
        u, v = b.uniform(-0.9, 0.9) * wide, b.uniform(-0.9, 0.9) * high
        lean = b.sign() * posts * b.uniform(0.4, 1.0)
        lines.append(capsule(p, (u, v, u + lean, v + rails), (0.0, 0.0)))
    wood = s.dark(0.3) if torch.rand(1) < 0.7 else s.paint(plain=0.3, most=0.1, among=s.bank.hair)
    _bars(s, p, lines, p.px(half), wood, within)


def _windows(s: Studio, p: Frame, size: tuple[Tensor, Tensor], wall: Paint) -> None:
    """Openings in rows, with surround, frame, bars and sill; those that are small are texture."""
    b, c = s.b, s.canvas
    wide, high = size
    across, down = (
        side * 2 / torch.randint(1, most, (b.scenes, 1, 1), device=b.device)
        for side, most in ((wide, 7), (high, 6))
    )
    cell = Frame((p.u + wide) % across - across / 2, (p.v + high) % down - down / 2, p.unit_px)
    half = (across * b.uniform(0.15, 0.4), down * b.uniform(0.2, 0.4))
    within = box(p, 0, 0, wide * 0.97, high * 0.97)
    opening = torch.maximum(box(cell, 0, 0, *half), within)
    if torch.rand(1) < 0.3:
        top = ellipse(cell, 0, -half[1], half[0], half[0])
        opening = torch.minimum(opening, torch.maximum(top, within))
    large = (2 * p.px(torch.minimum(*half)) > _OPENING_PX).float()
    opening = opening + AWAY * (1 - large)
    if torch.rand(1) < 0.5:
        rim = torch.minimum(*half) * b.uniform(0.1, 0.5)
        stone = s.like(wall, 0.15) if torch.rand(1) < 0.5 else s.bright()
        drawn = (p.px(rim) > _RIM_PX).float()
        c.part(p.px(opening - rim), stone, s.flat(p), worth=0.9, drawn=drawn)
    frame = torch.minimum(*half) * b.uniform(0.05, 0.18)
    paint = s.bright() if torch.rand(1) < 0.6 else s.paint(plain=0.9, most=0.03)
    c.part(p.px(opening), paint, 1 + 0 * p.u, worth=0.9)
    glass = opening + frame
    tone = s.dark(0.4) if torch.rand(1) < 0.8 else s.paint(plain=0.5)
    drawn = (p.px(frame) > _RIM_PX).float()
    c.part(p.px(glass), tone, s.flat(p), worth=0.8, drawn=drawn)
    if torch.rand(1) < 0.7:
        panes = torch.randint(1, 4, (2, b.scenes, 1, 1), device=b.device)
        lines = [
            _rows(axis + side + side / number, 2 * side / number)
            for axis, side, number in zip((cell.u, cell.v), half, panes, strict=True)
        ]
        _bars(s, p, lines, p.px(frame * b.uniform(0.4, 0.9)), paint, glass)
    if torch.rand(1) < 0.5:
        sill = box(cell, 0, half[1] * 1.08, half[0] * 1.12, half[1] * 0.08)
        drawn = (p.px(half[1] * 0.16) > _LEDGE_PX).float()
        c.part(
            p.px(torch.maximum(sill, within)) + AWAY * (1 - large),
            s.like(wall, 0.12),
            1.1 + 0 * p.u,
            worth=0.9,
            drawn=drawn,
        )


def _door(s: Studio, p: Frame, wide: Tensor, high: Tensor) -> None:
    b, c = s.b, s.canvas
    at, half, tall = b.uniform(-0.6, 0.6) * wide, b.uniform(0.12, 0.3), b.uniform(0.3, 0.6)
    door = torch.maximum(box(p, at, high - tall, half, tall), p.v - high)
    if torch.rand(1) < 0.3:
        door = torch.minimum(door, ellipse(p, at, high - 2 * tall, half, half))
    c.part(p.px(door - 0.15 * half), s.bright(), s.flat(p), worth=0.9)
    paint = s.paint(plain=0.6, most=0.08)
    c.part(p.px(door), paint, s.flat(p))
    for up in (0.6, 1.4):
        panel = box(p, at, high - up * tall, 0.65 * half, 0.25 * tall)
        drawn = (p.px(half) > _OPENING_PX).float()
        c.part(p.px(panel), s.like(paint, 0.06), 1 + 0 * p.u, worth=0.7, drawn=drawn)


def _columns(s: Studio, p: Frame, wide: Tensor, high: Tensor) -> None:
    """A gallery: columns with base and capital before a dark recess, under arches or a beam."""
    b, c = s.b, s.canvas
    pitch = wide * b.uniform(0.35, 0.6)
    top, low, half = b.uniform(-0.3, 0.3) * high, high * 0.98, pitch * b.uniform(0.07, 0.16)
    middle, tall = (top + low) / 2, (low - top) / 2
    c.part(p.px(box(p, 0, middle, wide, tall)), s.dark(0.3), s.flat(p))
    stone = s.paint(plain=0.5, most=0.1)
    if torch.rand(1) < 0.5:
        cell = Frame(_rows(p.u, pitch), p.v, p.unit_px)
        arch = ellipse(cell, 0, top + 0.45 * pitch, 0.42 * pitch, 0.4 * pitch)
        above = torch.maximum(box(p, 0, top + 0.2 * pitch, wide, 0.2 * pitch), -arch)
        c.part(p.px(above), stone, s.flat(p))
    if torch.rand(1) < 0.5:
        rail = box(p, 0, low - 0.12 * tall, wide, 0.12 * tall)
        _bars(s, p, [_rows(p.u, pitch / 7)], b.geometric(0.4, 1.4), s.bright(), rail)
        c.part(p.px(box(p, 0, low - 0.25 * tall, wide, 0.03 * tall)), stone, 1 + 0 * p.u, worth=0.9)
    shaft = _rows(p.u + pitch / 2, pitch)
    between = torch.maximum((p.v - middle).abs() - tall, p.u.abs() - wide)
    c.part(p.px(torch.maximum(shaft - half, between)), stone, s.limb(shaft - half, half))
    drawn = (p.px(half) > _RIM_PX).float()
    for end, out in ((top, 1.7), (low, 1.5)):
        cap = torch.maximum(shaft - out * half, (p.v - end).abs() - 1.2 * half)
        c.part(
            p.px(torch.maximum(cap, between)),
            s.like(stone, 0.03),
            1 + 0 * p.u,
            worth=0.9,
            drawn=drawn,
        )


def _roof(s: Studio, p: Frame, wide: Tensor, high: Tensor) -> None:
    """A gabled, hipped or flat roof with eaves, dormers and chimneys."""
    b, c = s.b, s.canvas
    out, rise, steep = wide * b.uniform(1.0, 1.25), b.uniform(0.1, 0.9), b.uniform(0.3, 1.4)
    for _ in range(int(torch.randint(0, 3, (1,)))):
        _chimney(s, p, b.uniform(-0.8, 0.8) * wide, -high - rise * b.uniform(0.3, 1))
    above = -p.v - high
    roof = torch.maximum((p.u.abs() - out) + above * steep, above - rise)
    tiles = s.paint(plain=0.3, most=0.15)
    c.part(p.px(torch.maximum(roof, -above) * 0.8), tiles, s.flat(p))
    if torch.rand(1) < 0.4:
        pitch = wide * b.uniform(0.5, 1)
        cell = Frame((p.u + pitch / 2) % pitch - pitch / 2, p.v + high + 0.35 * rise, p.unit_px)
        _dormer(s, cell, 0.3 * rise, p.u.abs() - 0.8 * wide)
    if torch.rand(1) < 0.5:
        thick = b.uniform(0.02, 0.05)
        drawn = (p.px(2 * thick) > _LEDGE_PX).float()
        eaves = box(p, 0, -high, out, thick)
        c.part(p.px(eaves), s.like(tiles, 0.12), 1 + 0 * p.u, worth=0.9, drawn=drawn)


def _chimney(s: Studio, p: Frame, at: Tensor, low: Tensor) -> None:
    b, c = s.b, s.canvas
    half, tall = b.uniform(0.05, 0.14), b.uniform(0.15, 0.4)
    paint = s.paint(plain=0.2, most=0.2, among=s.bank.built)
    c.part(p.px(box(p, at, low, half, tall)), paint, s.flat(p))
    for pot in range(int(torch.randint(0, 4, (1,)))):
        middle = at + half * (0.6 * pot - 0.6)
        c.part(
            p.px(box(p, middle, low - 1.12 * tall, 0.2 * half, 0.2 * tall)),
            s.like(paint, 0.06),
            s.flat(p),
        )
    if torch.rand(1) < 0.6:
        cap = box(p, at, low - tall, half * b.uniform(1.1, 1.35), 0.25 * half)
        drawn = (p.px(0.5 * half) > _LEDGE_PX).float()
        c.part(p.px(cap), s.like(paint, 0.06), s.flat(p), worth=0.9, drawn=drawn)


def _dormer(s: Studio, cell: Frame, half: Tensor, within: Tensor) -> None:
    """A window with a small gable that stands out of a roof."""
    c = s.canvas
    large = (cell.px(half) > _OPENING_PX / 2).float()
    hidden = AWAY * (1 - large)
    front = box(cell, 0, 0, 0.7 * half, half)
    gable = torch.maximum(cell.u.abs() + (cell.v + 1.9 * half) * -0.9, cell.v + half)
    for shape, paint in ((front, s.bright()), (gable, s.paint(plain=0.4))):
        c.part(cell.px(torch.maximum(shape, within)) + hidden, paint, s.flat(cell))
    pane = torch.maximum(front + 0.2 * half, within)
    c.part(cell.px(pane) + hidden, s.dark(0.3), s.flat(cell), worth=0.9)
