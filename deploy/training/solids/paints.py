"""What each pixel is painted with: colour and texture of the surface that is seen there."""

from __future__ import annotations

import torch
from textures import Bank
from torch import Tensor

from solids.slots import FAR, ROUGH, SIZE, SLOTS, TURN
from solids.solids import Solids
from solids.view import Seen

#: Stripes are lines where they are so many pixels wide.
_STRIPE_PX = 6.0
#: Half height in pixels from which small parts are drawn.
_LEAST_PX = 2.2


class Paints:
    """What each pixel's surface is painted with.

    Attributes:
        colour, grain: (scenes, 3, pixels).
        gloss, skin, amount: (scenes, pixels).
        number: Which part it is, (scenes, pixels).
        worth: 0 where that is too small to be drawn.
        small: Whether it is of the small ones, which have an outline and no edges.
        thing: Which object.
        rough: How far its fur or leaves stand out.
        kind: Number of what it is to be.
    """

    def __init__(self, solids: Solids, view: Seen, bank: Bank, unit_px: Tensor) -> None:
        which = torch.where(view.hit, view.which, 0.0).long()
        table = _table(solids)
        per = torch.gather(table, 1, which[:, :, None].expand(-1, -1, table.shape[2]))
        per = per.permute(0, 2, 1)
        base, other = per[:, 0:3], per[:, 3:6]
        texture, self.amount, zoom, self.gloss, stripes, self.skin = per[:, 6:12].unbind(1)
        u, v = _unrolled(view, solids, which)
        self.kind = per[:, 13]
        striped = (stripes > 0) & _patterned(u * stripes, v * stripes, per[:, 12])
        self.colour = torch.where(striped[:, None], other, base)
        drawn = textured(bank, texture.long(), u * zoom, v * zoom)
        self.grain = (self.amount * drawn)[:, None] * (
            0.6 + 0.4 * base / base.mean(1, keepdim=True).clamp(min=0.02)
        )
        self.thing = solids.object_of[which].float()
        wide_px = unit_px / stripes.clamp(min=1e-3)
        told = striped & (wide_px > _STRIPE_PX)
        self.number = solids.parts()[which].float() * 2 + told.float()
        half_px = torch.gather(solids.halves, 1, which) * unit_px
        self.worth = (half_px > _LEAST_PX).float()
        self.small = (half_px < FAR / 2).float()
        self.rough = torch.gather(
            torch.cat([solids.slots[:, :, ROUGH], torch.zeros_like(solids.slots[:, :2, 0])], 1),
            1,
            which,
        )


def _table(solids: Solids) -> Tensor:
    """(scenes, solids, numbers) of their surfaces."""
    b = solids.b
    table = torch.zeros(b.scenes, SLOTS + 2, 14, device=b.device)
    for slot, surface in solids.surfaces.items():
        columns = [surface.colour, surface.other, surface.texture.float()[:, None]]
        columns += [
            each[:, None]
            for each in (
                surface.amount,
                surface.zoom,
                surface.gloss,
                surface.stripes,
                surface.skin,
                surface.panes,
                surface.kind,
            )
        ]
        table[:, slot] = torch.cat(columns, 1)
    return table


def _unrolled(view: Seen, solids: Solids, which: Tensor) -> tuple[Tensor, Tensor]:
    """Places on a surface, as two numbers: those across the way it mostly faces."""
    rest = torch.zeros_like(solids.slots[:, :2])
    rest[..., TURN:SIZE] = torch.eye(3, device=rest.device).flatten()
    slots = torch.cat([solids.slots, rest], 1)[..., :SIZE]
    of = torch.gather(slots, 1, which[:, :, None].expand(-1, -1, SIZE)).permute(0, 2, 1)
    at, turn = of[:, :TURN], of[:, TURN:].reshape(of.shape[0], 3, 3, -1)
    own = (turn * (view.place - at)[:, None]).sum(2)
    facing = (turn * view.facing[:, None]).sum(2).abs()
    most = facing.argmax(1)
    u = torch.where(most == 0, own[:, 2], own[:, 0])
    v = torch.where(most == 1, own[:, 2], own[:, 1])
    return u, v


def _patterned(u: Tensor, v: Tensor, panes: Tensor) -> Tensor:
    """Where the other colour is: every second stripe, or panes that stand apart."""
    across, down = (u.remainder(2.0) - 1).abs(), (v.remainder(2.0) - 1).abs()
    return torch.where(panes > 0, (across < 0.45) & (down < 0.6), torch.sin(u * torch.pi) > 0)


def textured(bank: Bank, which: Tensor, u: Tensor, v: Tensor) -> Tensor:
    """Textures of the bank, repeated and mirrored; between their pixels."""
    side = bank.all.shape[-1]
    places = [((each * 0.5).remainder(1.0) * 2 - 1).abs() * (side - 1) for each in (u, v)]
    low = [each.floor().clamp(max=side - 2) for each in places]
    share = [each - base for each, base in zip(places, low, strict=True)]
    column, row = (each.long() for each in low)
    total = torch.zeros_like(u)
    for down in (0, 1):
        for across in (0, 1):
            weight = (share[1] if down else 1 - share[1]) * (share[0] if across else 1 - share[0])
            total = total + weight * bank.all[which, row + down, column + across]
    return total
