"""Where a thing has a contour within itself: where it hides itself, or has a sharp edge."""

from __future__ import annotations

import torch
from torch import Tensor

from solids.paints import Paints
from solids.slots import FAR, FLOOR
from solids.solids import Solids
from solids.view import Seen, Small

#: Jumps in depth of so much of how far it is hide something, beyond so many times its slope.
_JUMP, _SLOPES = 0.012, 3.0
#: What is rough hides itself everywhere: only jumps so much larger count.
_ROUGH_JUMP = 6.0
#: Edges where a surface turns by more than this (radians) within a pixel, and so many times more
#: than beside it.
_EDGE, _TURNS = 0.4, 2.5
#: A sharp edge is nearly as much of a line as where something hides.
_EDGE_WORTH = 0.9


def contours(small: Small, view: Seen, paint: Paints, solids: Solids) -> dict[int, Tensor]:
    """How much of a line there is between a pixel and the one before, within one part, by axis."""
    hit = small.first(view.hit.float())
    far = torch.where(hit > 0, small.first(view.far), 2 * FAR)
    rough = (small.first(paint.rough) > 0).float()
    facing = torch.stack([small.first(view.facing[:, k]) for k in range(3)], 1)
    # A ground without an end has no edges of its own.
    ground = solids.around[:, FLOOR].view(-1, 1, 1) > -FAR / 2
    found = {}
    for axis in (1, 2):
        jump = _ahead(far, axis) - far
        beside = torch.minimum(_before(jump, axis).abs(), _ahead(jump, axis).abs())
        least = _JUMP * torch.minimum(far, _ahead(far, axis)) * (1 + _ROUGH_JUMP * rough)
        hides = (jump.abs() > least + _SLOPES * beside) & ground.logical_or(hit > 0)
        bent = _bent(facing, axis) & (rough == 0) & (small.first(paint.small) == 0)
        edge = torch.maximum(hides.float(), _EDGE_WORTH * bent.float()) * hit
        found[axis] = _before(edge, axis)
        found[axis].narrow(axis, 0, 1).zero_()
    return found


def _bent(facing: Tensor, axis: int) -> Tensor:
    """Whether a surface turns sharply within one pixel, two or three, and not beside them."""
    turn = _angle(facing, _ahead(facing, axis + 1))
    found = torch.zeros_like(turn, dtype=torch.bool)
    for over in (1, 2, 3):
        whole = _angle(facing, facing.roll(-over, axis + 1))
        beside = torch.maximum(_before(turn, axis), turn.roll(-over, axis))
        found |= ((whole > _EDGE) & (whole > _TURNS * beside)).roll(over // 2, axis)
    return found


def _angle(a: Tensor, b: Tensor) -> Tensor:
    return torch.acos((a * b).sum(1).clamp(-1, 1))


def _ahead(x: Tensor, axis: int) -> Tensor:
    return x.roll(-1, axis)


def _before(x: Tensor, axis: int) -> Tensor:
    return x.roll(1, axis)
