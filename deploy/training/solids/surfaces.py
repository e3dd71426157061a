"""What solids are made of: skin, hair, leaves, cloth, clay, metal."""

from __future__ import annotations

from dataclasses import replace

import torch
from canvas import Paint
from studio import Studio

from solids.solids import Surface

#: Kinds of texture, in the order in which a bank has them.
_KINDS = ("noise", "hair", "stripes", "leaves", "built", "grass", "ripples", "tiles")


def made(s: Studio, paint: Paint, *kinds: str, gloss: float = 0.0, skin: float = 0.0) -> Surface:
    """A surface of a paint's colour, with a texture of some kinds or of any.

    Args:
        s: The studio.
        paint: Its colour, and how much texture it has.
        kinds: Of textures.
        gloss: The most that it shines.
        skin: Whether light comes through.
    """
    b, each = s.b, s.bank.each
    among = torch.tensor([_KINDS.index(kind) for kind in kinds or _KINDS], device=b.device)
    kind = among[torch.randint(len(among), (b.scenes,), device=b.device)]
    colour = paint.colour.flatten(1)
    none = torch.zeros_like(colour[:, 0])
    return Surface(
        colour=colour,
        other=colour,
        texture=kind * each + torch.randint(each, (b.scenes,), device=b.device),
        amount=paint.amount.flatten() + none,
        zoom=b.geometric(0.08, 0.5).flatten(),
        gloss=b.uniform(0, gloss).flatten() if gloss else none,
        stripes=none,
        panes=none,
        skin=none + skin,
        kind=none + float(paint.kind),
    )


def anything(s: Studio) -> Surface:
    """Clay, plastic, metal, wood, cloth: any colour, dull or shining, at times striped."""
    surface = made(s, s.paint(plain=0.5, most=0.15), gloss=float(torch.rand(1) < 0.5))
    if torch.rand(1) < 0.15:
        stripes = s.b.geometric(2, 12).flatten() * s.b.chance(0.7).flatten()
        return replace(surface, other=s.paint().colour.flatten(1), stripes=stripes)
    return surface


def cloth(s: Studio) -> Surface:
    """Cloth, at times striped."""
    surface = made(s, s.paint(plain=0.6, most=0.08), "noise", "stripes", "built")
    if torch.rand(1) < 0.2:
        stripes = s.b.geometric(2, 10).flatten()
        return replace(surface, other=s.paint().colour.flatten(1), stripes=stripes)
    return surface


def wall(s: Studio) -> Surface:
    """Plaster, brick or stone with windows, or without."""
    surface = made(s, s.paint(plain=0.4, most=0.1), "noise", "built")
    panes = s.b.geometric(1.2, 4).flatten() * s.b.chance(0.8).flatten()
    return replace(
        surface, other=s.dark(0.35).colour.flatten(1), stripes=panes, panes=torch.ones_like(panes)
    )


def bare(s: Studio) -> Surface:
    """Of one colour, for what lies under and behind."""
    return made(s, s.paint(plain=0.5, most=0.15))


def skin(s: Studio) -> Surface:
    """Skin of any shade, a little moist."""
    return made(s, s.skin(), "noise", gloss=0.35, skin=1.0)


def hair(s: Studio, most: float = 0.3) -> Surface:
    """Hair or fur."""
    return made(s, s.hairy(most), "hair", gloss=0.3)


def leaves(s: Studio) -> Surface:
    """Foliage or grass."""
    return made(s, s.leafy(), "leaves", "grass")


def like(s: Studio, surface: Surface, by: float = 0.05) -> Surface:
    """The same again, a little lighter or darker."""
    shift = by * s.b.normal().flatten()[:, None]
    return replace(surface, colour=(surface.colour + shift).clamp(0.02, 0.98))


def darker(s: Studio, surface: Surface, low: float, high: float) -> Surface:
    """The same, so many times as light."""
    share = s.b.uniform(low, high).flatten()[:, None]
    return replace(surface, colour=surface.colour * share)
