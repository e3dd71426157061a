"""The face of an animal in its coat, near by.

Hairs run over every outline, chin and breast are of one coat, and stripes, patches and light are
there that are no forms; nose leather, slit pupils and ears that light shines through are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import torch
from canvas import Paint
from fields import Frame, capsule, curve, ellipse
from studio import Studio
from torch import Tensor

from painted.coats import Coat, blotches, clad, coat_of, joined, way

#: Half widths from which a pupil and a nostril have an outline.
_PUPIL_PX, _NOSTRIL_PX = 2.5, 2.5


def muzzled(s: Studio, f: Frame) -> None:
    """The face of a furry animal from the front or half turned, close by."""
    b, c = s.b, s.canvas
    coat, turn = coat_of(s, f.unit_px), b.uniform(-0.45, 0.45)
    c.new_thing()
    _chest(s, f, coat)
    face = Frame(f.u - 0.6 * turn, f.v, f.unit_px)
    for side in (-1, 1):
        _lit_ear(s, f, coat, side)
    skull = ellipse(f, 0, -0.1, b.uniform(0.85, 1.0), b.uniform(0.72, 0.9))
    cheeks = ellipse(f, 0.25 * turn, 0.3, b.uniform(0.65, 0.95), b.uniform(0.42, 0.55))
    chin = ellipse(face, 0, 0.62, b.uniform(0.28, 0.42), b.uniform(0.26, 0.4))
    head = joined(joined(skull, cheeks, 0.15), chin, b.uniform(0.05, 0.25))
    px = f.px(head)
    # The chin throws a shade on the chest, which is of the same coat.
    c.shade(1 - b.uniform(0.05, 0.45) * torch.sigmoid(-f.px(head - 0.12) / f.px(0.06)))
    radial = way(((face.u * 1.1) ** 2 + (face.v - 0.3) ** 2).sqrt().expand_as(px))
    out = way(px)
    flow = (0.6 * radial[0] + 0.5 * out[0], 0.6 * radial[1] + 0.5 * out[1])
    clad(s, px, coat, flow, s.round(f, 1.15, 1.15))
    within = torch.sigmoid(-px / 3)
    if torch.rand(1) < 0.7:
        blotches(s, within, 0.6)
    _stripes(s, face, within)
    # Light along the bridge of the nose, shade beside it: no contours.
    half = 0.13 + 0.12 * (face.v - 0.3).abs()
    bridge = torch.exp(-((face.u / half) ** 4)) * torch.sigmoid((0.35 - face.v) / 0.1)
    c.shade(1 + within * b.uniform(-0.05, 0.3) * bridge)
    _pads(s, face, within)
    _eyes(s, face)
    _nose(s, face)


def _chest(s: Studio, f: Frame, coat: Coat) -> None:
    """Neck and breast behind a head, of the same coat or of a lighter one."""
    b = s.b
    at = b.uniform(-0.7, 0.7)
    body = ellipse(f, at, b.uniform(1.4, 1.9), b.uniform(1.0, 1.7), b.uniform(1.0, 1.5))
    px = f.px(body)
    out = way(px)
    flow = (0.3 * out[0] + 0.15 * b.normal(), 0.3 * out[1] + 0.9 + 0 * px)
    mine = replace(coat, paint=s.like(coat.paint, 0.05))
    clad(s, px, mine, flow, s.round(f.moved(at, 1.6, 1.7)), fringe=1.3)
    if torch.rand(1) < 0.5:
        bib = torch.sigmoid(-f.px(ellipse(f, 0.3 * at, 1.4, 0.6, 0.8)) / f.px(0.08))
        s.canvas.shade(1 + b.uniform(-0.2, 0.6) * bib * torch.sigmoid(-px / 3))


def _lit_ear(s: Studio, f: Frame, coat: Coat, side: int) -> None:
    """An ear whose inside is skin that light shines through, with hairs along its rim."""
    b, c = s.b, s.canvas
    long, half, lean = b.uniform(0.45, 0.95), b.uniform(0.26, 0.4), b.uniform(-0.1, 0.45)
    e = Frame(f.u * side - 0.55 - lean * (-f.v - 0.45), f.v + 0.45, f.unit_px)
    point = b.uniform(0.6, 1.6)
    share = (-e.v / long).clamp(-0.6, 1)
    width = half * (1 - share.clamp(min=0) ** (2.2 - 0.8 * point.clamp(max=1.4))).clamp(min=0)
    shape = torch.maximum((e.u.abs() - width) * 0.85, torch.maximum(-e.v - long, e.v - 0.3))
    px = e.px(shape)
    out = way(px)
    flow = (0.4 * out[0] + 0 * px, 0.4 * out[1] - 0.9)
    clad(s, px, replace(coat, paint=s.like(coat.paint, 0.04)), flow, s.flat(e), fringe=0.5)
    rim = b.uniform(0.04, 0.12)
    inner = torch.maximum(shape + rim, e.u * b.sign() - width * b.uniform(0.6, 1.0))
    tone = torch.tensor([0.85, 0.5, 0.45], device=b.device).view(1, 3, 1, 1)
    tone = (tone * b.uniform(0.35, 1.15)[:, None] + 0.06 * b.normal(3)).clamp(0.05, 0.98)
    skin = replace(s.paint(plain=0.4, most=0.05), colour=tone)
    through = 0.75 + 0.5 * (share - 0.3) * b.uniform(0, 1) + 0.15 * b.normal() * e.u / half
    inner_px = e.px(inner)
    clad(
        s, inner_px, replace(coat, paint=skin), flow, through.clamp(0.2, 1.4), worth=0.8, fringe=0.8
    )
    # Hairs that grow from the near rim over the inside.
    tuft = torch.sigmoid((0.5 - share - 1.2 * (e.u * b.sign()) / half) * 4)
    tuft = tuft * (s.bank.picked(b, s.bank.hair) > 0.6)
    near = coat.paint.colour + 0.15
    cover = (tuft * torch.sigmoid(-px) * 0.7)[:, None]
    c.image = torch.lerp(c.image, near.clamp(0, 1).expand_as(c.image), cover)


def _stripes(s: Studio, face: Frame, within: Tensor) -> None:
    """Dark bands that run up from the nose over the forehead and back over the cheeks."""
    b = s.b
    angle = torch.atan2(face.u, 0.5 - face.v)
    far = torch.sqrt(face.u**2 + (face.v - 0.5) ** 2)
    wavy = angle * b.uniform(8, 22) + b.uniform(-2, 2) * far + 0.6 * s.bank.picked(b, s.bank.hair)
    band = torch.sigmoid((torch.cos(wavy) - b.uniform(0.2, 0.8)) * b.geometric(3, 9))
    band = band * torch.sigmoid((far - b.uniform(0.5, 0.9)) * 8)
    deep = b.uniform(0, 0.6) * b.chance(0.5)
    s.canvas.shade((1 - deep * band * within).clamp(0.2, 1))


def _pads(s: Studio, face: Frame, within: Tensor) -> None:
    """The pads that whiskers grow from: lighter, without an edge; and the mouth below them."""
    b, c = s.b, s.canvas
    light, soft = b.uniform(-0.1, 0.55), face.px(b.uniform(0.04, 0.12))
    low = b.uniform(0.62, 0.72)
    pads = torch.minimum(
        ellipse(face, 0.2, low - 0.12, 0.26, 0.2), ellipse(face, -0.2, low - 0.12, 0.26, 0.2)
    )
    cover = torch.sigmoid(-face.px(pads) / soft)
    c.shade((1 + within * light * cover).clamp(0.3, 1.7))
    under = torch.exp(-(((face.v - low - 0.1) / 0.07) ** 2)) * (face.u.abs() < 0.45)
    c.shade(1 - within * b.uniform(0, 0.35) * under)
    dark, half = s.dark(0.25), face.px(b.uniform(0.008, 0.02)).clamp(0.4, 3)
    wide = b.uniform(0.22, 0.42)
    for side in (-1, 1):
        m = Frame(face.u * side, face.v, face.unit_px)
        off, along, _ = curve(m, ((0.0, low - 0.06), (0.4 * wide, low + 0.12), (wide, low - 0.02)))
        thin = half * (1.15 - along)
        c.thread(m.px(off), thin, dark)
        for row in range(3):
            at = Frame(m.u - 0.12, m.v - low + 0.24 - 0.07 * row, m.unit_px)
            dots = torch.hypot((at.u % 0.075) - 0.037, at.v + 0.1 * at.u) - 0.011
            spots = torch.sigmoid(-m.px(dots)) * (at.u > 0) * (at.u < 0.26)
            c.shade(1 - b.uniform(0, 0.6) * spots)
    _whiskers(s, face, low)


def _whiskers(s: Studio, face: Frame, low: Tensor) -> None:
    b = s.b
    hair = s.bright() if torch.rand(1) < 0.75 else s.dark()
    for whisker in range(2 * int(torch.randint(2, 6, (1,)))):
        side, up = (-1) ** whisker, b.uniform(-0.35, 0.4)
        points = (
            (side * b.uniform(0.2, 0.38), low - b.uniform(0.05, 0.2)),
            (side * 0.9, low - 0.25 + 0.5 * up),
            (side * b.uniform(1.2, 1.9), low - 0.1 + 1.5 * up),
        )
        off, along, _ = curve(face, points)
        s.canvas.thread(face.px(off), b.geometric(0.25, 0.8) * (1.1 - 0.7 * along), hair)


def _nose(s: Studio, face: Frame) -> None:
    """Nose leather, a closed form with nostrils at its sides, and the groove below it."""
    b, c = s.b, s.canvas
    wide, high, top = b.uniform(0.1, 0.2), b.uniform(0.1, 0.17), b.uniform(0.28, 0.36)
    n = face.moved(0, top)
    share = (n.v / high).clamp(0, 1)
    half = wide * (1 - 0.85 * share ** b.uniform(1.2, 3.0))
    shape = torch.maximum(
        (n.u.abs() - half) * 0.8, torch.maximum(-n.v - 0.15 * n.u.abs(), n.v - high)
    )
    groove = capsule(n, (0.0, high, 0.0, high + b.uniform(0.1, 0.2)), (0.0, 0.0))
    c.thread(n.px(groove), n.px(0.011).clamp(0.4, 2.5), s.dark(0.3))
    pink = torch.tensor([0.8, 0.42, 0.36], device=b.device).view(1, 3, 1, 1)
    tone = (pink * b.uniform(0.4, 1.1)[:, None] + 0.06 * b.normal(3)).clamp(0.05, 0.95)
    tone = torch.where(b.chance(0.5)[:, None] > 0, s.dark(0.25).colour, tone)
    leather = replace(s.paint(plain=0.3, most=0.05), colour=tone)
    c.part(n.px(shape) - n.px(0.02), leather, s.round(n.moved(0, 0.4 * high, wide * 1.3)))
    gleam = ellipse(n, b.uniform(-0.5, 0.5) * wide, 0.02, 0.5 * wide, 0.15 * high)
    cover = torch.sigmoid(-n.px(gleam)) * torch.sigmoid(-n.px(shape)) * b.uniform(0, 0.7)
    c.shine(cover, s.bright().colour, float(0.6 + 2.5 * torch.rand(1)))
    for side in (-1, 1):
        m = Frame(n.u * side, n.v, n.unit_px)
        hole = ellipse(
            Frame(m.u, m.v - 0.5 * (m.u - 0.6 * wide), m.unit_px),
            0.62 * wide,
            0.45 * high,
            0.3 * wide,
            0.16 * high,
        )
        drawn = (m.px(0.16 * high) > _NOSTRIL_PX).float()
        c.part(
            m.px(torch.maximum(hole, shape - 0.02)),
            s.dark(0.12),
            1 + 0 * m.u,
            worth=0.7,
            drawn=drawn,
        )


@dataclass(frozen=True)
class _Look:
    """What both eyes have in common, in units of half a head."""

    iris: Paint
    radius: Tensor
    slant: Tensor
    squeeze: Tensor
    rim: Tensor
    pupil: tuple[Tensor, Tensor]


def _eyes(s: Studio, face: Frame) -> None:
    b = s.b
    radius, slit = b.uniform(0.12, 0.2), b.chance(0.6)
    half = radius * (b.uniform(0.08, 0.4) * slit + b.uniform(0.35, 0.75) * (1 - slit))
    look = _Look(
        iris=replace(s.paint(plain=0.3, most=0.06), colour=_iris(s)),
        radius=radius,
        slant=b.uniform(-0.1, 0.35),
        squeeze=b.uniform(0.0, 0.1),
        rim=b.uniform(0.01, 0.05),
        pupil=(half, radius * 0.85 * slit + half * (1 - slit)),
    )
    apart, high = b.uniform(0.34, 0.44), b.uniform(0.05, 0.15)
    for side in (-1, 1):
        u = face.u * side - apart
        _almond(s, Frame(u, face.v + high + look.slant * u, face.unit_px), side, look)


def _almond(s: Studio, e: Frame, side: int, look: _Look) -> None:
    """An eye of an animal: dark rim, iris, pupil that is round or a slit, a glint."""
    b, c, radius = s.b, s.canvas, look.radius
    one = torch.ones_like(e.u + e.v)
    high = radius + look.squeeze
    lens = _both(e, look.squeeze, (1.15 * radius, high), down=True)
    corner = capsule(e, (-0.9 * radius, 0.02, -1.45 * radius, 0.35 * radius), (0.03, 0.005))
    halo = torch.sigmoid(-e.px(lens - 0.09) / e.px(0.03)) * b.uniform(-0.3, 0.5)
    c.shade((1 + halo).clamp(0.4, 1.5))
    c.part(e.px(torch.minimum(lens - look.rim, corner)), s.dark(0.15), one)
    ball = torch.sqrt(e.u**2 + e.v**2 + 1e-6) / radius
    lit = (0.75 + 0.5 * ball - 0.8 * e.v).clamp(0.3, 1.4)
    c.part(e.px(lens), look.iris, lit, drawn=0 * e.unit_px)
    half, long = look.pupil
    pupil = torch.maximum(_both(e, 0.5 * half, (1.5 * half, 1.15 * long), down=False), lens)
    c.part(e.px(pupil), s.dark(0.06), one, drawn=(e.px(half) > _PUPIL_PX).float())
    lid = torch.sigmoid(-e.px(lens)) * torch.sigmoid((-e.v - 0.45 * radius) / (0.15 * radius))
    c.shade(1 - b.uniform(0, 0.6) * lid)
    size = b.uniform(0.1, 0.3) * radius
    glint = ellipse(e, 0.5 * side * size, -0.4 * radius, size, size * b.uniform(0.5, 1))
    cover = torch.sigmoid(-e.px(torch.maximum(glint, lens)))
    c.shine(cover * b.uniform(0.5, 1) * b.chance(0.8), s.bright().colour, 0.5)


def _both(e: Frame, apart: Tensor, size: tuple[Tensor, Tensor], *, down: bool) -> Tensor:
    """What two ellipses, so far from the middle to both sides, have in common: a lens."""
    u, v = (0.0, apart) if down else (apart, 0.0)
    return torch.maximum(ellipse(e, u, v, *size), ellipse(e, -u, -v, *size))


def _iris(s: Studio) -> Tensor:
    """Green, amber, brown, at times blue."""
    b = s.b
    shades = torch.tensor(
        [
            [0.55, 0.58, 0.25],
            [0.75, 0.55, 0.2],
            [0.3, 0.18, 0.1],
            [0.45, 0.6, 0.7],
            [0.1, 0.07, 0.05],
        ],
        device=b.device,
    )
    picked = shades[torch.randint(len(shades), (b.scenes,), device=b.device)][:, :, None, None]
    return (picked * b.uniform(0.7, 1.3)[:, None] + 0.04 * b.normal(3)).clamp(0.02, 0.95)
