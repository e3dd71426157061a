"""Animals: furry heads from the front, heads and bodies in profile, birds.

Fur and feathers everywhere, and lines only at their forms: outline, ears, eyes, nose, mouth, paws.
"""

from __future__ import annotations

import torch
from canvas import Paint
from fields import AWAY, Frame, capsule, curve, ellipse
from studio import Studio, crease
from torch import Tensor

#: A ring of skin or fur around an eye is drawn from this width on, pupils from this half width.
_RING_PX, _PUPIL_PX = 4.0, 2.5
#: The parts of an eye that are smaller than this are not drawn.
_EYE_PX = 2.2


def animal(s: Studio, f: Frame) -> None:
    """A furry head and body: fur everywhere, and lines only at its forms."""
    b, c = s.b, s.canvas
    fur = s.hairy(0.4)
    c.new_thing()
    body = ellipse(f, b.uniform(-0.8, 0.8), 1.7, b.uniform(1.1, 1.8), b.uniform(0.9, 1.4))
    s.furry(f, body, s.ragged(f), s.like(fur, 0.05), s.round(f.moved(0, 1.7, 1.8)))
    for side in (-1, 1):
        e = Frame(f.u * side - 0.58, f.v + 0.75, f.unit_px)
        tip = b.uniform(0.3, 0.75)
        ear = torch.maximum(e.u.abs() * 1.3 + e.v * 0.45 - 0.22, -e.v - tip)
        ear = torch.maximum(ear, e.v - 0.4)
        s.furry(f, ear, 0.5 * s.ragged(f), s.like(fur, 0.04), s.flat(e))
        inner = torch.maximum(e.u.abs() * 1.6 + e.v * 0.5 - 0.12, -e.v - tip * 0.7)
        c.part(f.px(torch.maximum(inner, e.v - 0.3)), s.like(fur, 0.12), s.flat(e), worth=0.7)
    face = torch.minimum(ellipse(f, 0, 0, b.uniform(0.85, 1.0), 0.82), ellipse(f, 0, 0.4, 0.5, 0.5))
    s.furry(f, face, s.ragged(f), fur, s.round(f, 1.1, 1.1))
    _animal_face(s, f)


def _animal_face(s: Studio, f: Frame) -> None:
    b, c = s.b, s.canvas
    iris, slit = s.paint(plain=0.5, most=0.08), b.chance(0.5)
    for side in (-1, 1):
        e = Frame(f.u * side - 0.38, f.v + 0.08 - 0.2 * (f.u * side - 0.38), f.unit_px)
        lid = torch.maximum(ellipse(e, 0, 0.08, 0.2, 0.22), ellipse(e, 0, -0.08, 0.2, 0.22))
        rim = e.px(lid) - e.px(b.uniform(0.01, 0.04)).clamp(0.6, 4)
        large = (e.unit_px > 14).float()
        # One line along the lid, whose rim is dark.
        c.part(rim, s.dark(), 1 + 0 * e.u, drawn=large)
        c.part(e.px(lid), iris, 1 + e.v, drawn=0 * large)
        slim = 0.03 * slit + b.uniform(0.06, 0.12) * (1 - slit)
        pupil = e.px(torch.maximum(lid, ellipse(e, 0, 0, slim, 0.13)))
        c.part(pupil, s.dark(0.06), 1 + 0 * e.u, drawn=(e.px(slim) > 2.5).float())
        glint = e.px(ellipse(e, b.uniform(-0.08, 0.08), -0.07, 0.03, 0.025))
        c.part(glint + AWAY * (1 - b.chance(0.7)), s.bright(), 1 + 0 * e.u, drawn=0 * large)
        off, _, _ = curve(
            Frame(f.u * side, f.v, f.unit_px), ((0.0, 0.48), (0.08, 0.64), (0.3, 0.56))
        )
        c.thread(f.px(off), b.geometric(0.4, 1.5), s.dark(0.3))
    nose = torch.maximum(f.u.abs() * 1.2 + (f.v - 0.28) * 0.8 - 0.13, 0.28 - f.v)
    c.part(f.px(nose), s.paint(plain=0.7, most=0.05), s.round(f.moved(0, 0.35, 0.2)))
    hair = s.bright() if torch.rand(1) < 0.6 else s.dark()
    for whisker in range(6):
        side, up = (-1) ** whisker, b.uniform(-0.3, 0.3)
        points = (
            (side * 0.25, 0.42),
            (side * 0.8, 0.4 + up * 0.6),
            (side * b.uniform(1.1, 1.7), 0.45 + up * 1.6),
        )
        off, _, _ = curve(f, points)
        c.thread(f.px(off), b.geometric(0.25, 0.9), hair)


def profile(s: Studio, f: Frame) -> None:
    """An animal from the side, at times a bird: one eye, an ear, nose and mouth, forelegs, tail."""
    b, c, bird = s.b, s.canvas, float(torch.rand(1)) < 0.35
    fur = s.hairy(0.3) if torch.rand(1) < 0.7 else s.paint(plain=0.1, among=s.bank.hair)
    ragged = s.ragged(f)
    c.new_thing()
    if not bird:
        tail = ((-1.9, 2.2), (-2.6, b.uniform(0.2, 2.4)), (b.uniform(-2.6, -1.2), b.uniform(-1, 2)))
        off, along, _ = curve(f, tail)
        thick = b.uniform(0.08, 0.45) * (0.5 + 2 * along * (1 - along))
        s.furry(f, off - thick, 2 * ragged, s.like(fur, 0.06), s.limb(off - thick, 0.3))
    body = ellipse(f, b.uniform(-1.4, -0.6), 1.8, b.uniform(1.0, 1.6), b.uniform(0.8, 1.5))
    s.furry(f, body, ragged, s.like(fur, 0.04), s.round(f.moved(-1, 1.8, 1.6)))
    belly = ellipse(f, b.uniform(-0.6, 0.0), 2.1, 0.5, 0.9)
    s.furry(f, torch.maximum(belly, body), ragged, s.like(s.hairy(0.2)), s.flat(f), worth=0.6)
    neck = capsule(f, (-0.1, 0.2, -0.8, 1.4), (0.6, 0.8))
    s.furry(f, neck, ragged, s.like(fur, 0.02), s.flat(f), worth=0.2)
    _head_in_profile(s, f, fur, bird=bird)
    for _ in range(int(torch.randint(1, 3, (1,)))):
        _foreleg(s, f, fur)


def _head_in_profile(s: Studio, f: Frame, fur: Paint, *, bird: bool) -> None:
    b, c = s.b, s.canvas
    long, low = b.uniform(0.9, 1.7), b.uniform(0.05, 0.3)
    ragged = 0.6 * s.ragged(f)
    skull = ellipse(f, 0, 0, b.uniform(0.75, 0.95), b.uniform(0.65, 0.8))
    if bird:
        _beak(s, f, long)
        s.furry(f, skull, ragged, s.like(fur, 0.03), s.round(f))
    else:
        muzzle = capsule(f, (0.35, low, long, low + 0.12), (0.45, b.uniform(0.14, 0.28)))
        head = torch.minimum(skull, muzzle)
        s.furry(f, head, ragged, s.like(fur, 0.03), s.round(f.moved(0.3, 0), 1.3, 1.1))
        nose = ellipse(f, long + 0.08, low, b.uniform(0.07, 0.14), b.uniform(0.06, 0.12))
        c.part(f.px(nose), s.dark(0.3), s.round(f.moved(long + 0.08, low, 0.1)))
        mouth = ((long + 0.1, low + 0.14), (long - 0.2, low + 0.26), (0.45, low + 0.2))
        off, _, _ = curve(f, mouth)
        c.thread(f.px(off), b.geometric(0.4, 1.5), s.dark(0.3))
        ear(s, f.moved(b.uniform(-0.5, -0.1), -0.55), fur)
    disc_eye(s, f.moved(b.uniform(0.2, 0.4), b.uniform(-0.2, 0.0), b.uniform(0.12, 0.2)), fur)


def _beak(s: Studio, f: Frame, long: Tensor) -> None:
    b, c, low = s.b, s.canvas, 0.1
    share = ((f.u - 0.55) / (long - 0.3)).clamp(0, 1)
    beak = torch.maximum((f.v - low - 0.15 * share).abs() - 0.24 * (1 - share), 0.55 - f.u)
    beak = torch.maximum(beak, f.u - 0.25 - long)
    c.part(f.px(beak), s.paint(plain=0.8, most=0.04), s.round(f.moved(0.7, low, 0.6)))
    off, _, _ = curve(f, ((0.55, low + 0.05), (0.8, low + 0.1), (0.2 + long, low + 0.15)))
    c.thread(f.px(off), b.geometric(0.35, 1.2), s.dark(0.2))


def ear(s: Studio, e: Frame, fur: Paint) -> None:
    """An upright or hanging ear with its inside."""
    b, c = s.b, s.canvas
    long, half = b.uniform(0.2, 0.7), b.uniform(0.15, 0.3)
    lean = b.uniform(-0.6, 0.4)
    at = Frame(e.u - lean * (-e.v), e.v, e.unit_px)
    shape = ellipse(at, 0, -0.5 * long, half, long)
    s.furry(e, shape, 0.4 * s.ragged(e), s.like(fur, 0.05), s.flat(e))
    inner = ellipse(at, 0.1 * half, -0.45 * long, 0.6 * half, 0.7 * long)
    drawn = (e.px(0.4 * half) > _EYE_PX).float()
    c.part(e.px(inner), s.like(fur, 0.15), s.flat(e), worth=0.8, drawn=drawn)


def disc_eye(s: Studio, e: Frame, fur: Paint) -> None:
    """A dark disc or an iris with a pupil, a glint, and a ring of lids around it."""
    b, c = s.b, s.canvas
    one = torch.ones_like(e.u + e.v)
    disc, ring = ellipse(e, 0, 0, 1.0, b.uniform(0.8, 1.0)), b.uniform(0.1, 0.45)
    light = s.like(fur, 0.2) if torch.rand(1) < 0.5 else s.bright()
    drawn = (e.px(ring) > _RING_PX).float()
    c.part(e.px(disc - ring) + AWAY * b.chance(0.3), light, one, worth=0.9, drawn=drawn)
    drawn = (e.unit_px > _EYE_PX).float()
    if torch.rand(1) < 0.6:
        c.part(e.px(disc), s.dark(0.12), 1 + 0.3 * e.v, drawn=drawn)
    else:
        c.part(e.px(disc), s.paint(plain=0.5, most=0.08), 1 + 0.3 * e.v, drawn=drawn)
        size = b.uniform(0.35, 0.7)
        drawn = (e.px(torch.minimum(size, 1 - size)) > _PUPIL_PX).float()
        c.part(e.px(ellipse(e, 0, 0, size, size)), s.dark(0.06), one, drawn=drawn)
    glint = b.uniform(0.12, 0.3)
    spot = ellipse(e, b.uniform(-0.4, 0.4), -0.4, glint, glint)
    drawn = (e.px(glint) > _EYE_PX).float()
    c.part(e.px(spot) + AWAY * b.chance(0.2), s.bright(), one, worth=0.6, drawn=drawn)
    if torch.rand(1) < 0.5:
        off, _, _ = curve(e, ((-1.6, 0.3), (-0.2, -1.9), (1.5, 0.2)))
        c.thread(e.px(off), b.geometric(0.3, 1.2), s.dark(0.25), mark=True)


def _foreleg(s: Studio, f: Frame, fur: Paint) -> None:
    """A foreleg whose paw has toes side by side."""
    b, c, paint = s.b, s.canvas, s.like(fur, 0.03)
    u, v = b.uniform(0.2, 1.6), b.uniform(1.2, 3.0)
    limb = capsule(f, (b.uniform(-0.6, 0.2), 1.4, u, v), (0.35, 0.16))
    s.furry(f, limb, 0.5 * s.ragged(f), paint, s.limb(limb, 0.25))
    for toe in range(4):
        across = 0.09 * (toe - 1.5)
        shape = capsule(f, (u, v + across, u + b.uniform(0.2, 0.4), v + 1.6 * across), (0.06, 0.05))
        drawn = (f.unit_px > 10 * _EYE_PX).float()
        c.part(f.px(shape), s.like(paint, 0.02), s.limb(shape, 0.06), worth=0.8, drawn=drawn)
    if torch.rand(1) < 0.5:
        crease(s, f, ((-0.7, 1.2), (-0.3, 1.9), (0.3, 2.0)), deep=0.4)
