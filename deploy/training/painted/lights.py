"""Light that is no form: gloss on skin, lips, metal and glaze, rim light, shadows with crisp edges.

They are as plain as contours and lie close beside them. Only the form's edge is drawn.
"""

from __future__ import annotations

from dataclasses import replace

import torch
from canvas import Paint
from fields import Frame, blurred, capsule, curve, ellipse
from studio import Studio
from torch import Tensor

#: Half widths from which a rim is drawn on both sides.
_RIM_PX = 2.5


def light_on_face(s: Studio, f: Frame, face: Tensor, at: tuple[Tensor, Tensor]) -> None:
    """Gloss and cast shadows on a face that is painted.

    Args:
        s: The studio.
        f: The head's frame.
        face: Distance to the face's outline, negative inside.
        at: How far the features are moved to the right, and down.
    """
    b, c = s.b, s.canvas
    g, within = f.moved(*at), torch.sigmoid(-f.px(face) / 0.7)
    way = b.sign()
    if torch.rand(1) < 0.6:
        _shadow_of_nose(s, g, within, way)
    if torch.rand(1) < 0.5:
        _shadow_of_hair(s, f, within)
    if torch.rand(1) < 0.25:
        _half_in_shade(s, g, within, way)
    if torch.rand(1) < 0.8:
        _gloss_of_skin(s, g, within, way)
    if torch.rand(1) < 0.3:
        rim = torch.exp(-((face / b.uniform(0.02, 0.07)) ** 2)) * torch.sigmoid(f.u * way / 0.1)
        c.shine(within * rim * b.uniform(0, 0.8), s.bright().colour, 0.6)


def shadow_of_chin(s: Studio, f: Frame, turn: Tensor) -> None:
    """A shadow on neck and breast below a chin: crisp, soft, or none."""
    b = s.b
    shape = ellipse(
        f,
        0.3 * turn + b.uniform(-0.25, 0.25),
        b.uniform(0.5, 0.75),
        b.uniform(0.45, 0.7),
        b.uniform(0.4, 0.75),
    )
    soft = float(0.4 + 4 * torch.rand(1) ** 2)
    s.canvas.shadow(torch.sigmoid(-f.px(shape)), b.uniform(0.1, 0.65), soft)


def _shadow_of_nose(s: Studio, g: Frame, within: Tensor, way: Tensor) -> None:
    b = s.b
    side = Frame(g.u * way, g.v, g.unit_px)
    long, low = b.uniform(0.1, 0.4), b.uniform(0.3, 0.5)
    wedge = torch.maximum(
        capsule(side, (0.04, -0.1, 0.06 + 0.7 * long, low), (0.02, 0.1)),
        -side.u + 0.02 + 0.12 * torch.sigmoid((side.v - 0.1) * 10),
    )
    soft = float(0.4 + 2.5 * torch.rand(1) ** 2)
    s.canvas.shadow(torch.sigmoid(-g.px(wedge)) * within, b.uniform(0.1, 0.6), soft)


def _shadow_of_hair(s: Studio, f: Frame, within: Tensor) -> None:
    """A band over the forehead whose edge is that of strands, or of a hat's brim."""
    b = s.b
    line = b.uniform(-0.6, -0.15) + b.uniform(-0.3, 0.3) * f.u + b.uniform(-0.2, 0.4) * f.u**2
    locks = b.uniform(0, 0.15) * torch.sin(f.u * b.uniform(4, 18) + b.uniform(0, 6.28))
    edge = f.px(f.v - line - locks) + b.uniform(0, 5) * s.bank.picked(b, s.bank.hair)
    soft = float(0.4 + 2.5 * torch.rand(1) ** 2)
    s.canvas.shadow(torch.sigmoid(-edge) * within, b.uniform(0.1, 0.6), soft)


def _half_in_shade(s: Studio, g: Frame, within: Tensor, way: Tensor) -> None:
    """Shade from the side, at times through bars: its edge wanders over nose and cheek."""
    b = s.b
    edge = g.u * way - b.uniform(-0.1, 0.35) - 0.12 * torch.sin(4 * g.v + b.uniform(0, 6.28))
    cover = torch.sigmoid(g.px(edge) / b.uniform(0.8, 12))
    if torch.rand(1) < 0.35:
        bars = torch.sin(g.v * b.uniform(10, 30) + b.uniform(-3, 3) * g.u)
        cover = torch.sigmoid(g.px(bars * 0.05))
    s.canvas.shadow(cover * within, b.uniform(0.1, 0.6), 0.6)


def _gloss_of_skin(s: Studio, g: Frame, within: Tensor, way: Tensor) -> None:
    """Along the nose, on its tip, on forehead, cheeks and the lower lip, soft or sharp."""
    b, soft = s.b, float(0.5 + 3.5 * torch.rand(1) ** 1.5)
    spots = [
        capsule(
            g, (0.03 * way, b.uniform(-0.2, -0.05), 0.05 * way, b.uniform(0.1, 0.2)), (0.02, 0.025)
        ),
        ellipse(g, 0.04 * way, b.uniform(0.2, 0.27), b.uniform(0.03, 0.07), b.uniform(0.02, 0.05)),
        ellipse(g, 0.15 * way, b.uniform(-0.65, -0.5), b.uniform(0.1, 0.35), b.uniform(0.04, 0.15)),
        ellipse(g, 0.38 * way, b.uniform(0.12, 0.25), b.uniform(0.06, 0.16), b.uniform(0.04, 0.1)),
        ellipse(
            g, 0.05 * way, b.uniform(0.58, 0.64), b.uniform(0.04, 0.12), b.uniform(0.01, 0.025)
        ),
        ellipse(g, 0.02 * way, b.uniform(0.76, 0.84), b.uniform(0.05, 0.1), b.uniform(0.02, 0.06)),
    ]
    cover = torch.zeros_like(within)
    for spot in spots:
        cover = torch.maximum(
            cover, torch.sigmoid(-g.px(spot) / 0.8) * b.uniform(0, 1) * b.chance(0.85)
        )
    broken = (1 + 0.3 * s.bank.picked(b)).clamp(0.3, 1.3)
    s.canvas.shine(cover * within * broken * b.uniform(0.4, 1.0), s.bright().colour, soft)


def glossy(s: Studio, f: Frame) -> None:
    """Bowls, spoons and balls of metal, glass or glaze, in which windows and a table are seen."""
    number = int(torch.randint(1, 4, (1,)))
    for each in range(number):
        one = (
            f
            if not each
            else f.moved(s.b.uniform(-1.5, 1.5), s.b.uniform(-1, 1), s.b.uniform(0.5, 1))
        )
        (_bowl, _spoon, _ball)[int(torch.randint(3, (1,)))](s, one)


def _sheen(s: Studio, g: Frame, within_px: Tensor) -> None:
    """What is seen in a curved surface about as large as its frame: all of it without contours."""
    b, c = s.b, s.canvas
    inside = torch.sigmoid(-within_px / 0.6)
    bulge = 1 / (1.15 - (g.u**2 + g.v**2).clamp(max=1)).clamp(min=0.15)
    u, v = g.u * bulge.clamp(max=3), g.v * bulge.clamp(max=3)
    if torch.rand(1) < 0.85:
        # Where the table ends and the room begins: crisp in metal, soft in glaze.
        edge = v - b.uniform(-0.4, 0.6) - 0.3 * b.normal() * u * u + 0.15 * torch.sin(3 * u)
        dark = torch.sigmoid(edge * b.geometric(3, 60))
        c.shadow(dark * inside, b.uniform(-0.6, 0.75), 0.5)
    if torch.rand(1) < 0.5:
        bands = s.bank.picked(b, None, (0.1, 0.3)) + 2 * g.v
        cover = torch.sigmoid(b.geometric(1, 8) * (bands - b.uniform(0, 2)))
        c.shine(cover * inside * b.uniform(0.1, 0.8), s.paint().colour, 0.7)
    for _ in range(int(torch.randint(1, 5, (1,)))):
        at = (b.uniform(-0.6, 0.6), b.uniform(-0.6, 0.3))
        wide, high = b.geometric(0.06, 0.4), b.geometric(0.08, 0.5)
        pane = torch.maximum((u - at[0] - 0.2 * v).abs() - wide, (v - at[1]).abs() - high)
        if torch.rand(1) < 0.5:
            pane = torch.maximum(pane, 0.12 * wide - (u - at[0] - 0.2 * v).abs())
        if torch.rand(1) < 0.4:
            pane = ellipse(g, *at, 0.6 * wide, 0.6 * high)
        soft = float(0.4 + 3 * torch.rand(1) ** 2)
        cover = torch.sigmoid(-g.px(pane) / 0.7) * inside
        c.shine(cover * b.uniform(0.4, 1), s.bright().colour, soft)
    if torch.rand(1) < 0.5:
        rim = torch.exp(-(((within_px + b.uniform(1, 6)) / b.uniform(0.8, 3)) ** 2))
        turned = torch.sigmoid((g.u * s.sun[0] + g.v * s.sun[1]) * 4)
        c.shine(rim * inside * turned * b.uniform(0, 0.9), s.bright().colour, 0.5)


def _clay(s: Studio) -> Paint:
    """Steel, brass, glaze of any colour, black lacquer."""
    b = s.b
    grey = b.uniform(0.1, 0.8)[:, None] * (1 + 0.08 * b.normal(3))
    paint = s.paint(plain=0.9, most=0.03)
    return replace(
        paint, colour=torch.where(b.chance(0.5)[:, None] > 0, grey, paint.colour).clamp(0.03, 0.95)
    )


def _ball(s: Studio, f: Frame) -> None:
    clay, high = _clay(s), s.b.uniform(0.6, 1.0)
    g = Frame(f.u, f.v / high, f.unit_px)
    s.canvas.new_thing()
    px = f.px(ellipse(f, 0, 0, 1.0, high))
    s.canvas.part(px, clay, s.round(g, 1.1, 1.1))
    _sheen(s, g, px)


def _bowl(s: Studio, f: Frame) -> None:
    """A bowl or cup with a rim; its wall and its inside both shine."""
    b, c, clay = s.b, s.canvas, _clay(s)
    flat, deep, low = b.uniform(0.12, 0.5), b.uniform(0.4, 1.1), b.uniform(0.3, 0.7)
    c.new_thing()
    c.shadow(
        torch.sigmoid(-f.px(ellipse(f, 0.3 * s.sun[0], deep, 1.1, 0.35))),
        b.uniform(0, 0.6),
        float(0.5 + 5 * torch.rand(1)),
    )
    share = (f.v / deep).clamp(0, 1)
    half = low + (1 - low) * torch.sqrt((1 - share ** b.uniform(1.2, 3)).clamp(min=1e-4))
    side = torch.maximum(f.u.abs() - half, torch.maximum(-f.v, f.v - deep))
    body = torch.minimum(side * 0.8, ellipse(f, 0, deep, low, low * flat))
    c.part(f.px(body), clay, s.round(f, 1.1, 6.0))
    _sheen(s, f.moved(0, 0.5 * deep, 0.9), f.px(body))
    rim = b.uniform(0.02, 0.08)
    parted = (f.px(rim) > _RIM_PX).float()
    outer = ellipse(f, 0, 0, 1.0, flat)
    c.part(f.px(outer), s.like(clay, 0.08), s.flat(f))
    inner = ellipse(f, 0, 0.3 * rim, 1 - rim, flat * (1 - rim))
    c.part(f.px(inner), s.like(clay, 0.05), b.uniform(0.5, 1.0) * s.flat(f), drawn=parted)
    _sheen(s, Frame(f.u, f.v / flat, f.unit_px), f.px(inner))
    if torch.rand(1) < 0.4:
        level = ellipse(f, 0, 0.3 * flat, 0.85, flat * 0.75)
        level = torch.maximum(level, inner)
        c.part(f.px(level), s.paint(plain=0.8, most=0.05), s.flat(f))
        _sheen(s, Frame(f.u, f.v / flat, f.unit_px), f.px(level))


def _spoon(s: Studio, f: Frame) -> None:
    """A spoon that lies: its bowl with a rim, and a handle, both of metal."""
    b, c, clay = s.b, s.canvas, _clay(s)
    c.new_thing()
    cast = f.moved(0.12 * b.normal(), 0.1)
    wide, bend = b.uniform(0.28, 0.5), b.uniform(-0.5, 0.5)
    off, along, _ = curve(f, ((0.0, 0.5), (0.0, 1.2), (bend, 2.4)))
    thick = 0.05 + 0.07 * along**2 * b.uniform(0.3, 1.2)
    both = torch.minimum(
        ellipse(cast, 0, 0, wide, 0.62), capsule(cast, (0.0, 0.5, bend, 2.4), (0.06, 0.1))
    )
    c.shadow(torch.sigmoid(-f.px(both)), b.uniform(0, 0.5), float(0.5 + 4 * torch.rand(1)))
    handle = off - thick
    bowl = ellipse(f, 0, 0, wide, 0.62)
    whole = torch.minimum(handle, bowl)
    c.part(f.px(whole), clay, s.flat(f))
    streak = torch.exp(-(((off - 0.3 * thick) / (0.3 * thick)) ** 2)) * (bowl > 0)
    glow = blurred((streak * b.uniform(0, 1))[:, None], 0.6)[:, 0]
    c.shine(glow * torch.sigmoid(-f.px(handle)), s.bright().colour, 0.5)
    rim = b.uniform(0.03, 0.08)
    inner = ellipse(f, 0, 0.0, wide - rim, 0.62 - rim)
    parted = (f.px(rim) > _RIM_PX).float()
    c.part(f.px(inner), s.like(clay, 0.06), s.round(f, 0.8, 0.8), drawn=parted)
    _sheen(s, Frame(f.u / wide, f.v / 0.62, f.unit_px * wide), f.px(inner))
